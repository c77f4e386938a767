// SPDX-License-Identifier: MIT
#pragma once
/* Caps on whatever a client or a radio peer can make grow. Each has a test at the cap. */

#define LIMIT_LINE_BYTES (64 * 1024)    /* one line on the socket (contract) */
#define LIMIT_QUEUE_BYTES (256 * 1024)  /* what may wait for a client that doesn't read (contract) */
#define LIMIT_CLIENTS 1024              /* connections at once */
#define LIMIT_BATCH 64                  /* requests in one JSON-RPC batch */
#define LIMIT_OPEN_ASKS 256             /* older ones wait in `unanswered` */
#define LIMIT_CANDIDATES 12             /* suggestions in one ask */
#define LIMIT_NAME_BYTES 64             /* a name, collar, alias, sex, reason: octets of UTF-8 */
#define LIMIT_TEXT_BYTES 256            /* any text in a request: a reason, a `by`, an id */
#define LIMIT_ALIASES 8                 /* of one animal */
#define LIMIT_ANIMALS 4096              /* on record and not gone */
#define LIMIT_SCALES 32                 /* adopted */
#define LIMIT_CONTAINERS 256
#define LIMIT_LITTERS 512               /* open */
#define LIMIT_FRAME_BYTES 512           /* the longest attribute value of GATT (Core, Vol 3, Part F, 3.2.9) */
#define LIMIT_PENDING_FRAMES 4096       /* received while the database can't be written */
#define LIMIT_CHARACTERISTICS 16        /* measured ones on one scale */
#define LIMIT_ATTRIBUTES 512            /* characteristics and descriptors of one scale that are looked at */
#define LIMIT_ADAPTERS 16               /* Bluetooth adapters of this machine */
#define LIMIT_BROADCASTS_PER_S 50       /* frames taken from one scale that broadcasts; the rest is dropped */
#define LIMIT_STREAM_FRAMES 64          /* of one stream's load that are kept in the ledger beside the last; the newest */
#define LIMIT_IMPORT_ROWS 10000         /* readings of one import: twelve pups six times a day for eight weeks are 4032 */
#define LIMIT_IMPORT_TOLD 100           /* of its rows that one reply tells something about; the others are counted */
