// SPDX-License-Identifier: MIT
#include "daemon/ctl/commands.h"
#include "daemon/ctl/paired.h"
#include <ctype.h>

const struct command commands[] = {
	{ "scale", "find", "[SECONDS]",
	  "List the weight scales in reach\n"
	  "Looks for SECONDS (10 unless told). Most scales are silent until somebody presses or loads them.",
	  scale_find },
	{ "scale", "adopt", "ADDRESS NAME [--container C] [--key FILE]",
	  "Listen to a scale from now on\n"
	  "ADDRESS as `scale find` shows it; NAME is yours. The scale need not be in reach. Only adopted scales\n"
	  "are listened to. At a terminal it waits until the scale is connected, and pairs with it if it wants that.\n"
	  "--key: of a scale that encrypts its broadcasts, as `scale key` takes it.",
	  scale_adopt },
	{ "scale", "pair", "NAME",
	  "Pair with an adopted scale\n"
	  "For a scale that measures for a paired host only, or has lost its bond; `status` and the log tell. It may show\n"
	  "six digits, which are asked for here.",
	  scale_pair },
	{ "scale", "key", "NAME FILE",
	  "Give the key of a scale that encrypts its broadcasts\n"
	  "FILE holds one line of 32 hexadecimal digits; -: it is typed, and not shown. The scale's maker or its own program\n"
	  "tells the key. Give it again when the scale was reset.",
	  scale_key },
	{ "scale", "offers", "ADDRESS",
	  "Connect to a scale and list what it offers\n"
	  "Before adopting one: is there a mass, and are its steps fine enough? Nothing is kept.",
	  scale_offers },
	{ "scale", "consent", "NAME USER CODE | NAME --none",
	  "Give a scale with several users the code of one\n"
	  "USER is the index that the scale gave, CODE the consent code set there. Some such scales send weights only then.",
	  scale_consent },
	{ "scale", "list", "", "List the adopted scales", scale_list },
	{ "scale", "forget", "NAME", "No longer listen to a scale\nIts readings stay.", scale_forget },
	{ "container", "tare", "NAME [MASS] [--scale S]",
	  "Remember how heavy a container is\n"
	  "With MASS: as typed (404g). Without: the next settled weighing, of scale S or of any.",
	  container_tare },
	{ "container", "on", "NAME --scale S", "Say which container stands on a scale", container_on },
	{ "container", "none", "--scale S",
	  "Say that no container stands on a scale\n"
	  "Also right when the scale itself was set to zero with the container on it.",
	  container_none },
	{ "container", "list", "", "List the containers", container_list },
	{ "litter", "add", "NAME [--dam D] [--born T] [--adult MASS]",
	  "Begin a litter\n"
	  "T is the time of whelping, --adult the mass expected of a grown animal.",
	  litter_add },
	{ "litter", "list", "", "List the litters", litter_list },
	{ "litter", "limits", "L [--early-loss PCT] [--band-low PCT] [--overdue HOURS] [--behind PCT]",
	  "Show or set when concerns are told of a litter\n"
	  "Limits of its own, on your vet's advice and within safe bounds; \"published\" takes the published one again.\n"
	  "--early-loss: lost by day 2. --band-low: gain a day in week 1. --overdue: hours without a weighing.\n"
	  "--behind: below the litter's mean.",
	  litter_limits },
	{ "litter", "close", "NAME", "End a litter\nIts record stays; its animals are no longer suggested.",
	  litter_close },
	{ "animal", "add", "NAME --litter L [--collar C] [--sex f|m] [--birth MASS] [--at T] [--alias A]...",
	  "Put an animal on record\n"
	  "--at is the time of birth, --alias a further word that stands for the animal (a tag, a nickname).",
	  animal_add },
	{ "animal", "list", "[--litter L]", "List the animals", animal_list },
	{ "animal", "alias", "WHO WORD",
	  "Add a word that stands for an animal\nThe code of its tag, or the name it got later: its record keeps the first one.",
	  animal_alias },
	{ "animal", "gone", "NAME --why REASON",
	  "Take an animal off the list\nSold, given away, died: the record stays.", animal_gone },
	{ "whelping", "begin", "L",
	  "Begin a whelping\n"
	  "From now on a new mass may be a new pup. It ends by itself 24 hours after the last birth.",
	  whelping_begin },
	{ "whelping", "pup", "[L] [--sex f|m] [--collar C] [--name N] [--birth MASS] [--ask ID] [--at T] [--stillborn]",
	  "Put a birth on record\n"
	  "--ask: its weight is that of an open ask, \"\" the oldest. Without --name it is called as its collar, or pup 3.\n"
	  "A stillborn pup counts among the births, without a name.",
	  whelping_pup },
	{ "whelping", "score", "WHO POINTS [--at T]",
	  "Keep the newborn score of a pup\n"
	  "POINTS are five digits 0 to 2: heart, breathing, reflex, motion, colour, such as 21222.",
	  whelping_score },
	{ "whelping", "end", "[L]", "End a whelping", whelping_end },
	{ "whelping", "show", "[L]", "Show the births, and who is without weight or score", whelping_show },
	{ "whelping", NULL, "L",
	  "Keep a whelping, one letter or word each\n"
	  "Births so far and the time since the last; then p pup, s stillborn, a score, l lost, b begin, e end, q leave.\n"
	  "The weight comes off the scale, or is typed. How long without a pup is too long: ask your vet beforehand.",
	  whelping_run },
	{ "watch", NULL, "[--quiet]",
	  "Answer at a terminal, one key or word each\n"
	  "Shows each weighing, who it may be, and what was recorded. --quiet: no bell. When standard input or\n"
	  "output is no terminal, it prints lines and reads one answer a line.",
	  watch_run },
	{ "round", "begin", "[L] [--fed before|after]",
	  "Begin a pass over a litter\n"
	  "Who is left is then told, and what looks exchanged at its end. --fed: whether all are weighed before or after\n"
	  "they feed; it is kept with each reading. The last pup ends the round.",
	  round_begin },
	{ "round", "end", "[L]", "End a round before the last pup", round_end },
	{ "round", "exchange", "[L]",
	  "Correct readings that were exchanged\n"
	  "Those that `round` told first of the last round: each gets the animal that it fits. Nothing is done by itself.",
	  round_exchange },
	{ "round", NULL, "[L]",
	  "Show who is left, and what looks exchanged\n"
	  "The round that is open, or the last one.",
	  round_show },
	{ "growth", NULL, "[WHO|L] [--as-of T]",
	  "Tell who gains\n"
	  "Of one animal, a litter, or all: the mass believed in, the gain a day with its standard uncertainty, the verdict,\n"
	  "and when the next weighing will tell. --as-of: with only what was measured up to T.",
	  growth_run },
	{ "concerns", NULL, "[WHO|L] [--as-of T]",
	  "Show what to worry about, and what to do\n"
	  "Worst first: what fired, why, by which source. bismar is no vet; when in doubt call yours.",
	  concerns_run },
	{ "look", NULL, "WHO [--list]",
	  "Go through the signs of one animal, one key each\n"
	  "A digit or the letter beside it answers, Enter skips, q stops. Each answer is kept; at the end stands what to worry\n"
	  "about. Without a terminal, or with --list, the questions alone. A pup that is limp, cold or won't suck: call first.",
	  look_run },
	{ "sign", "list", "[WHO] [--since T]", "List the signs that were noted", sign_list },
	{ "sign", NULL, "WHO SIGN VALUE [--at T]",
	  "Note one sign\n"
	  "As `look` has them: bismar sign green gums dry, bismar sign green temperature 35.2C",
	  sign_run },
	{ "feed", "plan", "WHO|L --label KCAL [--meals N] [--vet-energy KCAL] [--syringe STEP]",
	  "Plan meals for pups that need help\n"
	  "KCAL of the label is the mixed milk's, as 1kcal/mL; nothing is assumed. --vet-energy: what your vet said for a day,\n"
	  "as 200kcal/kg. STEP: the syringe's or bottle's marks, 0.5mL unless told. Only warm pups, by today's weight.\n"
	  "A cold pup is never fed. Your vet's word goes first.",
	  feed_plan },
	{ "feed", "give", "WHO VOLUME [--what W] [--at T]",
	  "Note what a pup was fed\nFor instance: bismar feed give green 6.5mL --what milk", feed_give },
	{ "feed", "nursed", "WHO",
	  "Tell what nursing brought\n"
	  "By its last two weighings, in the same container, before and after.",
	  feed_nursed },
	{ "feed", "list", "[WHO] [--since T]", "List the feeds that were noted", feed_list },
	{ "order", "add",
	  "WHO|L WHAT --route skin|mouth --amount A --most M --every HOURS --vet V --until T [--from T] [--medicine]",
	  "Keep what a vet ordered\n"
	  "A and M as your vet said them, each: 10mL/kg, 1mL/100g, 4mL; M is the most in 24 hours. T may lie ahead: +2d,\n"
	  "\"2026-11-28 18:00\". --medicine: it is no plain fluid. bismar has no amount of its own.",
	  order_add },
	{ "order", "list", "", "List the orders", order_list },
	{ "order", "end", "ID --why W", "End an order before its time\nID as `order list` shows it.", order_end },
	{ "dose", "plan", "WHO --syringe STEP [--order ID]",
	  "Say what a vet's order comes to now\n"
	  "By a weight and a warmth of today, rounded down to STEP, the syringe's marks (0.1mL); or why not, and what to do.\n"
	  "It proposes no amount of its own. Your vet's word goes first.",
	  dose_plan_run },
	{ "dose", "give", "WHO VOLUME --syringe STEP [--order ID] [--at T] [--words W]",
	  "Note a dose that is given\n"
	  "Refused when the order doesn't allow it now. --at: it was given then, and written down. --words: what `dose plan`\n"
	  "wants typed where an amount lies outside the published range and your vet said it again.",
	  dose_give_run },
	{ "dose", "list", "[WHO] [--since T]", "List the doses that were given", dose_list_run },
	{ "ask", "list", "", "List the weighings that nobody has answered", ask_list },
	{ "answer", NULL, "WHO [--ask ID]",
	  "Say who was weighed\n"
	  "WHO is a name, collar or alias. The oldest open ask, or ID: its last four characters are enough.",
	  answer_answer },
	{ "aside", NULL, "[--ask ID] [--why REASON]",
	  "Say that a weighing was no animal\nThe oldest open ask, or ID. It is kept, set aside.", answer_aside },
	{ "undo", NULL, "[--ask ID]",
	  "Take an answer back\n"
	  "The answer given last, or that of ID. The question is then open again.",
	  answer_undo },
	{ "reading", "list", "[WHO] [--litter L] [--since T] [--last N]",
	  "List readings, newest first\nThe last 20 unless --since or --last tell more.", reading_list },
	{ "correct", NULL, "READING WHO",
	  "Say that a reading was of another animal\n"
	  "READING as `reading list` shows it. What was said first stays in the ledger.",
	  answer_correct },
	{ "weigh", NULL, "WHO MASS [--at T]",
	  "Record a mass that was read by eye\nFor instance: bismar weigh green 304g --at -20min", weigh_run },
	{ "sheet", NULL, "L [-o FILE] [--vet TEXT]",
	  "Write the paper for the wall: one page to print\n"
	  "HTML: weights, who is due, what to worry about, orders, empty rows for the night, and how to type it in\n"
	  "afterwards. --vet: the number to call, as it shall stand there.",
	  sheet_run },
	{ "report", NULL, "L [-o FILE] [--since T]",
	  "Write the record of a litter: HTML to read or print\n"
	  "One file, for the vet, the buyer and the shelf: curves against the published band, then each pup with its weighings, signs,\n"
	  "feeds, doses and concerns. Needs no daemon. --since: shows what was from T on.",
	  report_run },
	{ "export", NULL, "csv|jsonl|icar [-o FILE] [--litter L] [--since T] [--source DOMAIN]",
	  "Write all readings for other programs\n"
	  "csv: RFC 4180. jsonl: one JSON object a line. icar: weight events of the ICAR Animal Data Exchange standard, one JSON array;\n"
	  "--source: whose identifiers those are, a domain name of yours in reverse. Masses are in grams always.",
	  export_run },
	{ "import", NULL, "csv FILE [--really] [--doubtful] [--litter L] [--units g|kg|oz|lb] [--dates day-first|month-first] [--time HH:MM]",
	  "Add a paper log that was typed into a spreadsheet\n"
	  "Tells what would be added and each mistake by row and column; --really adds all of it, or nothing. What is on record already is\n"
	  "skipped. First row: the columns' names; date, time, pup or collar, weight, or a column a pup. --units: of bare numbers. --dates: of\n"
	  "03/04/2026. --time: of rows without one. --doubtful: also what is far off a pup's curve, or before its birth.",
	  import_run },
	{ "backup", NULL, "FILE [--force]",
	  "Copy the database into one file\n"
	  "While the daemon runs or not. FILE, or a folder: then the time makes the name. The copy is read back\n"
	  "and checked before it gets its name. --force replaces a file that is there.",
	  backup_run },
	{ "page", "pair", "[--state DIR]",
	  "Make a code for a phone that is to use the page\n"
	  "Eight digits, to be typed on the phone within ten minutes; they serve once, and five wrong ones void them. For\n"
	  "root, or the user of bismar-page. --state: its folder, " PAIRED_DIR " unless told.",
	  page_pair },
	{ "page", "list", "[--state DIR]", "List the phones that may use the page", page_list },
	{ "page", "revoke", "NAME [--state DIR]",
	  "Take a phone's right to the page away\n"
	  "NAME, or its id as `page list` shows it. Its open page is closed at once.",
	  page_revoke },
	{ "status", NULL, "", "Show what the daemon sees", status_run },
	{ "checkup", NULL, "",
	  "Walk the whole chain and say what to do\n"
	  "From the kernel's Bluetooth to the newest weighing. Nothing is changed. Exit status 0: all is good.",
	  checkup_run },
	{ "help", NULL, "[COMMAND]", "Explain a command", commands_help },
};
const size_t commands_n = sizeof commands / sizeof *commands;

void commands_usage(const struct command *command, FILE *to)
{
	(void)fprintf(to, "bismar %s%s%s%s%s\n", command->noun, command->verb ? " " : "",
		      command->verb ? command->verb : "", *command->usage ? " " : "", command->usage);
}

/* The verbs of a noun, for people. Returns how many rows have them. */
static unsigned list_verbs(const char *noun, FILE *to)
{
	unsigned n = 0;

	for (size_t i = 0; i < commands_n; i++) {
		if (strcmp(commands[i].noun, noun) != 0 || !commands[i].verb)
			continue;
		(void)fputs("  ", to);
		commands_usage(&commands[i], to);
		n++;
	}
	return n;
}

static const struct command *find(int argc, char **argv, int *ret_words)
{
	for (size_t i = 0; i < commands_n; i++) {
		const struct command *c = &commands[i];
		if (strcmp(c->noun, argv[0]) != 0)
			continue;
		if (c->verb && (argc < 2 || strcmp(c->verb, argv[1]) != 0))
			continue;
		*ret_words = c->verb ? 2 : 1;
		return c;
	}
	return NULL;
}

const struct command *commands_find(int argc, char **argv, int *ret_words)
{
	const struct command *found = find(argc, argv, ret_words);
	bool noun = false;

	if (found)
		return found;
	for (size_t i = 0; i < commands_n; i++)
		noun = noun || strcmp(commands[i].noun, argv[0]) == 0;
	if (!noun) {
		ctl_error("There is no command \"%s\"; `bismar help` lists them.", argv[0]);
		return NULL;
	}
	if (argc < 2)
		ctl_error("What about the %s? One of:", argv[0]);
	else
		ctl_error("There is no \"%s %s\"; but:", argv[0], argv[1]);
	(void)list_verbs(argv[0], stderr);
	return NULL;
}

static void help_all(void)
{
	(void)puts("bismar [OPTIONS] COMMAND ...\n\nCommands");
	for (size_t i = 0; i < commands_n; i++) {
		const struct command *c = &commands[i];
		const char *end = strchr(c->help, '\n');
		char name[32];
		(void)snprintf(name, sizeof name, "%s%s%s", c->noun, c->verb ? " " : "", c->verb ? c->verb : "");
		(void)printf("  %-16s %.*s\n", name, end ? (int)(end - c->help) : (int)strlen(c->help), c->help);
	}
	(void)printf("\nOptions\n"
		     "  --socket PATH    the daemon's socket (%s)\n"
		     "  --database FILE  the database (%s)\n"
		     "  --units g|oz     masses in grams or ounces\n"
		     "  --by NAME        who says it, when several people share an account\n"
		     "  --json           one JSON object a line\n"
		     "  --version, --help\n"
		     "BISMAR_SOCKET, BISMAR_DATABASE and BISMAR_UNITS in the environment do the same.\n\n"
		     "Masses: 304g, 0.304kg, 10.7oz, 0lb10.7oz. Times: 13:45 (today), -20min, -2h, -1d,\n"
		     "\"2026-11-25 13:45\" (local time), 2026-11-25T13:45:00+01:00.\n"
		     "Exit status: 0 done, 1 refused, 2 wrong use, 3 no daemon or no database.\n",
		     CTL_SOCKET, CTL_DATABASE);
}

enum ctl_status commands_help(struct ctl *ctl, int argc, char **argv)
{
	const struct command *c;
	int words;

	(void)ctl;
	if (argc == 0) {
		help_all();
		return ctl_flush();
	}
	if (argc == 1 && !find(argc, argv, &words) && list_verbs(argv[0], stdout) > 0)
		return ctl_flush();
	c = commands_find(argc, argv, &words);
	if (!c)
		return CTL_USAGE;
	commands_usage(c, stdout);
	(void)printf("%s\n", c->help);
	if (!c->verb)
		(void)list_verbs(c->noun, stdout);
	return ctl_flush();
}
