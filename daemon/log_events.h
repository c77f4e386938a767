// SPDX-License-Identifier: MIT
#pragma once
/*
 * What a keeper or a program may look for in the journal: changes of state, and what went wrong. Every line of one kind
 * carries the same MESSAGE_ID for good:
 *     journalctl MESSAGE_ID=b3497b8b5ad4426caf188eb1d0a32d30
 * and systemd/bismar.catalog says what it means and what to do (`journalctl -x`). A test holds the two together.
 * Above: whoever logs. Below: log.c.
 *
 * An id is made once (`systemd-id128 new`) and never changes, nor is it used again for something else; a new event goes
 * to the end. Fields beside systemd's own: BISMAR_SCALE (its address), BISMAR_CONTAINER, BISMAR_PEER, BISMAR_FILE,
 * BISMAR_ADAPTER, BISMAR_CONCERN (its id).
 */

/* X(name, MESSAGE_ID): LOG_EVENT_name */
#define LOG_EVENTS(X)                                                                                                  \
	/* the service */                                                                                              \
	X(STARTED, "0979d05108734d0a9ac5208670ed79ab")                                                                 \
	X(STOPPED, "b3497b8b5ad4426caf188eb1d0a32d30")                                                                 \
	X(CANNOT_BEGIN, "de46aa050e2045b58086b9245ae5507e")                                                            \
	X(SETTINGS_WRONG, "ab8a15ec74e4457bae0d5cbfbb976ed7")                                                          \
	X(RELOADED, "f721e9606ea74576afd20014f05ca00c")                                                                \
	/* the ledger */                                                                                               \
	X(DATABASE_UNUSABLE, "322eb5dc645e419dbb3ac03aa8a90537") /* at start */                                        \
	X(DATABASE_BLOCKED, "197676ce512e400087f2838d914c0a18")                                                        \
	X(DATABASE_WRITABLE, "595b17550cfe4c2fa79a86ebb5d0a48b")                                                       \
	X(RESULTS_LOST, "19acbde6b998443eb2f71f9abf3c9777")                                                            \
	/* Bluetooth */                                                                                                \
	X(RADIO_TROUBLE, "c78fae6efd7c4a19a82fde1f649b7b11")                                                           \
	X(RADIO_READY, "29622d514fda4ebaa4a93dd6c35bf7c1")                                                             \
	X(SCAN_FAILING, "39531fc54e244ebba515efc72e26a7c3")                                                            \
	/* scales */                                                                                                   \
	X(SCALE_ADOPTED, "1c6b7a6d8adc496fbee303a4ab9dce1c")                                                           \
	X(SCALE_FORGOTTEN, "1be4d71a46d547f48d0427e41e84758d")                                                         \
	X(SCALE_LINK, "dd448fca14244de88755307a0472e563")                                                              \
	X(SCALE_UNFIT, "7f36d5d256c14c3a8d04391d0051ee10")                                                             \
	X(SCALE_FLOOD, "2131c34cb33a4da2a869503120c24bbd")                                                             \
	X(SCALE_FLOOD_OVER, "98af968460824323a5e263d70a2929d1")                                                        \
	X(PAIRING_NEEDED, "6073ab1c33534e89934d487d4f683209")                                                          \
	X(CLOCK_SET, "a3feba39d4d649dea41e4d4e60ddf755")                                                               \
	/* what they send */                                                                                           \
	X(FRAME_REFUSED, "464235384efd42fa97f50fcbb6bb000e")                                                           \
	X(STAMP_REFUSED, "ed3b4b8601e3435e821729ba029ecad9")                                                           \
	X(KEY_WRONG, "e59221ece0ab4a818c5d37dea3acfa2a")                                                               \
	X(BROADCAST_REPLAYED, "ea06947290c14ab396aac51eba9d9ed3")                                                      \
	X(CONTAINER_DRIFTED, "4dc8b9ee9a494f648f2717b9cabfe188")                                                       \
	/* clients */                                                                                                  \
	X(CLIENT_DROPPED, "b0cad601327e4582bb46514946ce9370")                                                          \
	X(CLIENTS_FULL, "6ea3e4d5b3a245c3ba8786c3d7182fa6")                                                            \
	/* and since */                                                                                                \
	X(BATTERY_LOW, "968ffed4c1544c88ba14895711c6fda1") /* a scale's */                                             \
	X(CLOCK_MOVED, "fb94a6cfd96948c3ab1e2b6d41068d4f") /* this machine's */                                        \
	X(CONCERN_VET, "5df7f842ced547368c737603f773666a")                                                             \
	X(CONCERN_VET_OVER, "f58af6f85a3c4acd8aebc542066ca92d")

#define LOG_EVENT_NAME(name, id) LOG_EVENT_##name,
enum log_event { LOG_EVENTS(LOG_EVENT_NAME) };
#undef LOG_EVENT_NAME
