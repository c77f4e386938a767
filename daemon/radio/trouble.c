// SPDX-License-Identifier: MIT
#include "trouble.h"
#include "daemon/log.h"

static enum radio_trouble of_adapters(const struct mirror *mirror)
{
	enum radio_trouble trouble = RADIO_NO_ADAPTER;

	for (const struct mirror_adapter *at = mirror->adapters; at; at = at->next) {
		if (at->powered)
			return RADIO_FINE;
		trouble = RADIO_ADAPTER_OFF;
	}
	return trouble;
}

/* false: not known yet. */
static bool find_out(const struct bus *bus, const struct objects *objects,
		     const struct mirror *mirror, enum radio_trouble *ret)
{
	if (!bus_is_up(bus) && bus_has_failed(bus))
		*ret = RADIO_NO_BUS;
	else if (bus_lacks_owner(bus))
		*ret = RADIO_NO_BLUEZ;
	else if (objects->denied)
		*ret = RADIO_DENIED;
	else if (objects->loaded)
		*ret = of_adapters(mirror);
	else
		return false; /* on the way up */
	return true;
}

bool trouble_update(struct trouble *trouble, const struct bus *bus, const struct objects *objects,
		    const struct mirror *mirror)
{
	enum radio_trouble now;

	if (!find_out(bus, objects, mirror, &now) || (trouble->told && now == trouble->now))
		return false;
	trouble->told = true;
	trouble->now = now;
	if (now == RADIO_FINE)
		log_event(LOG_EVENT_RADIO_READY, LOG_INFO, NULL, NULL, "radio: Bluetooth is ready");
	else
		log_event(LOG_EVENT_RADIO_TROUBLE, LOG_WARNING, NULL, NULL, "radio: %s", radio_trouble_text(now));
	return true;
}

const char *radio_trouble_text(enum radio_trouble trouble)
{
	switch (trouble) {
	case RADIO_FINE:
		return "";
	case RADIO_NO_BUS:
		return "there is no D-Bus system bus, so no scale can be heard; is it running? "
		       "(systemctl status dbus)";
	case RADIO_DENIED:
		return "the bus forbids talking to Bluetooth; add the service's user to the group "
		       "bluetooth";
	case RADIO_NO_BLUEZ:
		return "the Bluetooth service isn't running; install bluez, and start it: "
		       "systemctl start bluetooth";
	case RADIO_NO_ADAPTER:
		return "there is no Bluetooth adapter; plug one in (rfkill and dmesg tell about "
		       "one that doesn't show)";
	case RADIO_ADAPTER_OFF:
		return "the Bluetooth adapter is off; switch it on: bluetoothctl power on (or "
		       "rfkill unblock bluetooth)";
	case RADIO_STARTING:
		return "Bluetooth is still being looked at; try again in a moment";
	}
	return "";
}
