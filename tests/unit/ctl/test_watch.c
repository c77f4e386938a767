// SPDX-License-Identifier: MIT
/*
 * The picture that `watch` draws. Widths are measured by the C library's wcswidth(), not by the code under test.
 */
#include "board.h"
#include "daemon/ctl/screen.h"
#include "daemon/ctl/watch_digits.h"
#include "daemon/ctl/watch_draw.h"
#include <limits.h>
#include <locale.h>
#include <wchar.h>

static struct screen screen, before;

static void check_fits(unsigned width, unsigned height)
{
	for (unsigned i = 0; i < SCREEN_ROWS; i++) {
		wchar_t wide[SCREEN_ROW_SIZE];
		size_t n = mbstowcs(wide, screen.rows[i].text, SCREEN_ROW_SIZE);
		assert_true(n != (size_t)-1 && n < SCREEN_ROW_SIZE);
		int columns = wcswidth(wide, n);
		if (columns < 0 || (unsigned)columns > width || (i >= height && columns))
			fail_msg("%u x %u, row %u: %d columns: %s", width, height, i, columns, screen.rows[i].text);
		for (size_t c = 0; !screen.utf8 && screen.rows[i].text[c]; c++)
			assert_true((unsigned char)screen.rows[i].text[c] < 0x80);
	}
	assert_true(screen.cursor_row < height || height == 0);
	assert_true(screen.cursor_column < width || width == 0);
}

static void draw_in(const struct watch_board *board, unsigned width, unsigned height, bool utf8,
		    enum quantity_unit unit)
{
	const struct watch_look look = { .now_ms = BOARD_NOW, .unit = unit };

	screen_clear(&screen, width, height, utf8);
	watch_draw(board, &look, &screen);
	check_fits(width, height);
}

static void draw(const struct watch_board *board)
{
	draw_in(board, 80, 24, true, QUANTITY_GRAMS);
}

static int row_of(const char *text)
{
	for (unsigned i = 0; i < screen.height; i++)
		if (strstr(screen.rows[i].text, text))
			return (int)i;
	return -1;
}

static void check_shows(const char *text)
{
	if (row_of(text) >= 0)
		return;
	for (unsigned i = 0; i < screen.height; i++)
		print_message("|%s\n", screen.rows[i].text);
	fail_msg("not shown: %s", text);
}

static void check_hides(const char *text)
{
	if (row_of(text) >= 0)
		fail_msg("shown: %s", screen.rows[row_of(text)].text);
}

static void test_nothing(void **state)
{
	struct watch_board *board = board_new();

	(void)state;
	draw(board);
	check_shows("kitchen connected");
	check_shows("12:45");
	check_shows("Nothing to answer. Put a pup on the scale.");
	check_shows("Still to weigh in Birch: Acer, Corn");
	check_shows("Ctrl-C: leave");
	check_hides("Who is it?");
	check_hides("Recorded");
	board_free(board);
}

static void test_new_pup(void **state)
{
	struct watch_board *board = board_new();

	(void)state;
	board_ask(board, "ask-1", "12:44:00", BOARD_NOW);
	draw(board);
	check_hides("new pup");
	(void)snprintf(board->asks[0].whelping, sizeof board->asks[0].whelping, "Birch");
	draw(board);
	check_shows("Who is it, or a new pup (+)?");
	check_shows("-: aside   +: new pup");
	draw_in(board, 40, 12, true, QUANTITY_GRAMS);
	check_shows("+: new");
	board_free(board);
}

/* A whole picture, once: the places of things are part of what is promised to the eye. */
static void test_one(void **state)
{
	static const char *const expected[24] = {
		"bismar                                                 kitchen connected   12:45",
		"",
		"██████    ██    ██████      ██████",
		"    ██  ████        ██      ██",
		"██████    ██    ██████      ██████",
		"    ██    ██    ██              ██",
		"██████  ██████  ██████  ██  ██████      g",
		"",
		"12:44 on kitchen   716.5 g less basket 404 g   ± 2.9 g",
		"",
		" 1  Acer  green  expected 318 g ± 9.2 g       62 %",
		" 2  Bean                                      30 %",
		"",
		"Who is it?",
		"",
		"",
		"",
		"",
		"",
		"",
		"",
		"Still to weigh in Birch: Acer, Corn",
		"",
		"Enter: Acer   1-9: pick   or a name   -: aside   <: undo   Ctrl-C: leave",
	};
	struct watch_board *board = board_new();

	(void)state;
	board_ask(board, "ask-1", "12:44:00", BOARD_NOW);
	draw(board);
	for (unsigned i = 0; i < 24; i++) {
		char text[SCREEN_ROW_SIZE];
		size_t n;
		(void)snprintf(text, sizeof text, "%s", screen.rows[i].text);
		n = strlen(text);
		while (n && text[n - 1] == ' ')
			text[--n] = '\0'; /* blanks at the end aren't seen */
		assert_string_equal(text, expected[i]);
	}
	assert_int_equal(screen.cursor_row, 13);
	assert_int_equal(screen.cursor_column, 11);
	board_free(board);
}

static void test_several(void **state)
{
	struct watch_board *board = board_new();

	(void)state;
	board_ask(board, "ask-2", "12:44:00", BOARD_NOW);
	board_ask(board, "ask-3", "12:45:00", BOARD_NOW);
	board_ask(board, "ask-1", "12:40:00", BOARD_NOW);
	draw(board);
	check_shows(
		"12:44 on kitchen"); /* it was being looked at: an older one that comes later doesn't push it away */
	check_shows("2 more wait");
	board_notice(board, "withdraw", "{\"ask\":\"ask-2\",\"why\":\"set aside\"}", BOARD_NOW);
	draw(board);
	check_shows("12:40 on kitchen"); /* then the oldest */
	check_shows("1 more waits");
	board_free(board);
}

static void test_restless_and_old(void **state)
{
	struct watch_board *board = board_new();

	(void)state;
	board_notice(board, "ask",
		     "{\"ask\":\"a\",\"at\":\"2026-11-24T22:10:00Z\",\"scale\":null,\"container\":null,\"gross_g\":300,"
		     "\"tare_g\":0,\"net_g\":300,\"u_g\":5,\"state\":\"restless\",\"litter\":null,\"candidates\":[]}",
		     BOARD_NOW);
	draw(board);
	check_shows("yesterday 22:10");
	check_shows("restless");
	check_hides("less basket");
	check_hides("1-9");
	check_shows("or a name");
	board_free(board);
}

static void test_answered(void **state)
{
	struct watch_board *board = board_new();

	(void)state;
	board_ask(board, "ask-1", "12:44:00", BOARD_NOW);
	board_recorded(board, "ask-1", "Acer", "keeper", BOARD_NOW);
	draw(board);
	check_hides("Who is it?");
	check_shows("Answered by keeper: Acer.");
	check_shows("Recorded  12:44  Acer     312.5 g   by keeper");
	check_shows("Still to weigh in Birch: Corn");
	board_recorded(board, "ask-9", "Corn", "root", BOARD_NOW);
	draw(board);
	check_shows("All of Birch are weighed.");
	assert_true(row_of("Corn     312.5 g") < row_of("Acer     312.5 g")); /* newest first */
	board_free(board);
}

static void test_tare_off(void **state)
{
	struct watch_board *board = board_new();

	(void)state;
	board_notice(board, "container",
		     "{\"container\":\"basket\",\"scale\":\"kitchen\",\"gross_g\":412,\"tare_g\":404,\"drift_g\":8,\"u_"
		     "g\":2,"
		     "\"what\":\"drifted\",\"say\":\"basket is 8 g heavier than when it was weighed\"}",
		     BOARD_NOW);
	draw(board);
	check_shows("basket is 8 g heavier than when it was weighed");
	board_notice(board, "container",
		     "{\"container\":\"basket\",\"scale\":\"kitchen\",\"gross_g\":100,\"tare_g\":404,\"drift_g\":-304,"
		     "\"u_g\":2,\"what\":\"below\",\"say\":\"100 g is less than the container alone\"}",
		     BOARD_NOW);
	draw(board);
	check_shows("100 g is less than the container alone");
	board_ask(board, "ask-1", "12:44:00", BOARD_NOW); /* it weighs again; the drift is still true */
	draw(board);
	check_hides("less than the container alone");
	check_shows("8 g heavier");
	board_notice(board, "container",
		     "{\"container\":\"basket\",\"scale\":\"kitchen\",\"gross_g\":412,\"tare_g\":412,\"drift_g\":0,\"u_"
		     "g\":2,"
		     "\"what\":\"tared\",\"say\":\"basket weighs 412 g\"}",
		     BOARD_NOW);
	draw(board);
	check_hides("8 g heavier");
	check_shows("basket weighs 412 g.");
	board_free(board);
}

static void test_battery_and_radio(void **state)
{
	struct watch_board *board = board_new();
	json_t *status;

	(void)state;
	board_notice(board, "scale", "{\"scale\":\"kitchen\",\"address\":\"A\",\"state\":\"away\",\"battery\":15}",
		     BOARD_NOW);
	draw(board);
	check_shows("kitchen away");
	check_shows("The battery of kitchen is at 15 %.");
	status = json_pack("{s:{s:s, s:s}, s:[]}", "radio", "trouble", "adapter-off", "text",
			   "The Bluetooth adapter is switched off.", "scales");
	watch_board_status(board, status);
	json_decref(status);
	draw(board);
	check_shows("The Bluetooth adapter is switched off.");
	check_shows("no scale adopted");
	board_free(board);
}

static void test_no_daemon(void **state)
{
	struct watch_board *board = board_new();

	(void)state;
	board_ask(board, "ask-1", "12:44:00", BOARD_NOW);
	watch_board_down(board,
			 "No daemon answers at /run/bismar/prompt.sock: start it with `systemctl start bismard`, "
			 "or name its socket with --socket.");
	draw(board);
	check_shows("no daemon");
	check_shows("trying again every 2 s");
	check_shows("No daemon answers at /run/bismar/prompt.sock: start it with `systemctl start");
	check_shows("or name its socket with --socket."); /* wrapped, not cut */
	check_hides("Who is it?");
	check_shows("Ctrl-C leaves");
	board_free(board);
}

static void test_concern(void **state)
{
	struct watch_board *board = board_new();

	(void)state;
	board_notice(board, "concern",
		     "{\"concern\":\"c1\",\"level\":\"vet\",\"animal\":\"Corn\",\"text\":\"Corn has lost 30 g since "
		     "morning\"}",
		     BOARD_NOW);
	draw(board);
	check_shows("CALL YOUR VET NOW: Corn has lost 30 g since morning");
	check_shows("call the vet now"); /* every screen that shows a concern says when to stop reading */
	assert_true(screen.rows[row_of("call the vet now")].bold);
	board_notice(board, "concern",
		     "{\"concern\":\"c2\",\"level\":\"act\",\"name\":\"Bean\",\"litter\":\"Birch\",\"text\":\"doesn't gain\","
		     "\"open\":true}",
		     BOARD_NOW);
	draw(board);
	check_shows("ACT: Bean: doesn't gain"); /* the text says nobody's name */
	assert_true(row_of("VET NOW: Corn") < row_of("ACT: Bean"));
	for (int i = 0; i < 4; i++) {
		char text[128];
		(void)snprintf(text, sizeof text, "{\"concern\":\"d%d\",\"level\":\"look\",\"text\":\"text %d\"}", i, i);
		board_notice(board, "concern", text, BOARD_NOW);
	}
	draw(board);
	check_shows("and 2 more: bismar concerns");
	board_notice(board, "concern", "{\"concern\":\"c1\",\"level\":\"vet\",\"text\":\"x\",\"open\":false}", BOARD_NOW);
	draw(board);
	check_hides("VET NOW: Corn");
	board_free(board);
}

/* Who is left is told whole, or seen not to be whole. */
static void test_round_of_many(void **state)
{
	static const char *const names[] = { "Elder", "Fern", "Gorse", "Hawthorn", "Ivy", "Juniper" };
	struct watch_board *board = board_new();

	(void)state;
	for (size_t i = 0; i < sizeof names / sizeof *names; i++)
		board_animal(board, names[i], "", 0);
	board_notice(board, "round",
		     "{\"round\":\"r\",\"litter\":\"Birch\",\"begun\":\"2026-11-25T12:45:00Z\",\"fed\":\"before\",\"left\":[],"
		     "\"ended\":false}",
		     BOARD_NOW);
	draw(board);
	check_shows("Still to weigh in Birch: Acer, Bean, Corn, Dock, Elder, Fern, Gorse, Hawthorn,");
	check_shows("Ivy, Juniper");
	assert_int_equal(row_of("Ivy, Juniper"), row_of("Still to weigh") + 1);
	draw_in(board, 80, 6, true, QUANTITY_GRAMS); /* no room for both rows */
	check_shows("\xe2\x80\xa6");
	check_hides("Ivy, Juniper");
	board_free(board);
}

/* 64 octets a name is what the ledger takes: in Latin, in wide and in combining characters, and with tricks. */
static void test_long_names(void **state)
{
	static const char *const names[] = {
		"Abcdefghijklmnopqrstuvwxyzabcdefghijklmnopqrstuvwxyzabcdefghijkl",
		"仔犬仔犬仔犬仔犬仔犬仔犬仔犬仔犬仔犬仔犬仔",
		"ééééééééééé",
		"\xe2\x80\xaeslat\xe2\x80\xac",
		"\x1b[2J\x07",
		"\xff\xfe",
		"🐕🐕🐕🐕🐕🐕🐕🐕",
	};

	(void)state;
	for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
		struct watch_board *board = board_new();
		board_ask(board, "ask-1", "12:44:00", BOARD_NOW);
		for (size_t c = 0; c < LIMIT_CANDIDATES; c++) {
			struct watch_candidate *candidate = &board->asks[0].candidates[c];
			*candidate = (struct watch_candidate){
				.expects = true, .expected_mg = 318400, .u_expected_mg = 9000, .probability = 0.5
			};
			(void)snprintf(candidate->name, sizeof candidate->name, "%s", names[i]);
			(void)snprintf(candidate->collar, sizeof candidate->collar, "%s", names[i]);
		}
		board->asks[0].n_candidates = LIMIT_CANDIDATES;
		board_animal(board, names[i], names[i], 0);
		(void)snprintf(board->recent[0].name, WATCH_NAME, "%s", names[i]);
		(void)snprintf(board->recent[0].by, WATCH_NAME, "%s", names[i]);
		board->n_recent = 1;
		for (unsigned width = 1; width < 120; width += 3)
			draw_in(board, width, 24, width % 2, QUANTITY_GRAMS);
		draw(board);
		check_shows("50 %"); /* however long the names, the numbers have their place */
		check_shows("and 3 more: type the name");
		for (unsigned r = 0; r < 24; r++)
			assert_null(strchr(screen.rows[r].text, 0x1b));
		board_free(board);
	}
}

static void test_tiny(void **state)
{
	struct watch_board *board = board_new();

	(void)state;
	board_ask(board, "ask-1", "12:44:00", BOARD_NOW);
	board_recorded(board, "ask-0", "Dock", "keeper", BOARD_NOW);
	draw_in(board, 40, 10, true, QUANTITY_GRAMS);
	check_shows("Who is it?");
	check_shows("Acer");
	check_shows("Bean");
	check_shows("62 %");
	check_shows("Enter: Acer");
	draw_in(board, 40, 10, false, QUANTITY_GRAMS);
	check_shows("312.5 g");
	draw_in(board, 30, 4, true, QUANTITY_GRAMS); /* mass, question and keys outlast all else */
	check_shows("312.5 g");
	check_shows("Who is it?");
	check_shows("Enter: Acer");
	board_free(board);
}

/* No size makes it write beyond the edge. */
static void test_sweep(void **state)
{
	struct watch_board *board = board_new();

	(void)state;
	board_ask(board, "ask-1", "12:44:00", BOARD_NOW);
	board_ask(board, "ask-2", "12:45:00", BOARD_NOW);
	board_recorded(board, "ask-0", "Dock", "keeper", BOARD_NOW);
	board_notice(board, "concern",
		     "{\"concern\":\"c\",\"level\":\"act\",\"text\":\"Corn has not gained for a day\"}", BOARD_NOW);
	(void)snprintf(board->message, sizeof board->message, "%s",
		       "a message that is long enough to need two lines "
		       "even where the terminal has eighty columns");
	(void)snprintf(board->word, sizeof board->word, "%s", "cl");
	board->n_word = 2;
	for (unsigned height = 0; height <= 40; height++)
		for (unsigned width = 0; width <= 132; width++)
			draw_in(board, width, height, (width + height) % 2, QUANTITY_OUNCES);
	draw_in(board, SCREEN_COLUMNS, SCREEN_ROWS, true, QUANTITY_GRAMS);
	board_free(board);
}

static void test_ounces(void **state)
{
	struct watch_board *board = board_new();

	(void)state;
	board_ask(board, "ask-1", "12:44:00", BOARD_NOW);
	draw_in(board, 80, 24, true, QUANTITY_OUNCES);
	check_shows("oz less basket"); /* 404 g = 14.25 oz, NIST SP 811: 1 oz = 28.349 523 125 g */
	check_shows("14.25 oz");
	check_hides(" g ");
	board_free(board);
}

static void test_digits(void **state)
{
	char buffer[256];
	struct text_line line;

	(void)state;
	assert_int_equal(watch_digits_width("8", WATCH_DIGITS_FULL), 6);
	assert_int_equal(watch_digits_width("88", WATCH_DIGITS_FULL), 14);
	assert_int_equal(watch_digits_width("88", WATCH_DIGITS_HALF), 7);
	assert_int_equal(watch_digits_width("8?", WATCH_DIGITS_HALF), UINT_MAX);
	text_begin(&line, buffer, sizeof buffer, 80, true);
	watch_digits_put(&line, "14", WATCH_DIGITS_HALF, 0);
	assert_string_equal(buffer, "▄█  █ █ ");
	text_begin(&line, buffer, sizeof buffer, 80, false);
	watch_digits_put(&line, "14", WATCH_DIGITS_FULL, 2);
	assert_string_equal(buffer, "  ##    ######  ");
	/* a large "g" would be read as a 9: the unit is small, at the foot */
	text_begin(&line, buffer, sizeof buffer, 80, false);
	watch_digits_put(&line, "1 g", WATCH_DIGITS_FULL, 0);
	assert_null(strchr(buffer, 'g'));
	text_begin(&line, buffer, sizeof buffer, 80, false);
	watch_digits_put(&line, "1 g", WATCH_DIGITS_FULL, 4);
	assert_string_equal(buffer, "######      g");
	assert_int_equal(watch_digits_width("1 g", WATCH_DIGITS_FULL), 13);
}

/* Painting the difference gives the same picture as painting anew: played back on a small model of a terminal. */
struct model {
	char cells[24][81];
	unsigned row, column;
};

static void play(struct model *model, const char *octets, size_t n)
{
	for (size_t i = 0; i < n; i++) {
		unsigned a = 0, b = 0;
		int used = 0;
		char final = 0;
		if (octets[i] != 0x1b) {
			assert_true(model->row < 24 && model->column < 80);
			model->cells[model->row][model->column++] = octets[i];
			continue;
		}
		if (sscanf(octets + i, "\033[%u;%uH%n", &a, &b, &used) == 2 && used) {
			model->row = a - 1;
			model->column = b - 1;
			i += (size_t)used - 1;
			continue;
		}
		assert_int_equal(
			sscanf(octets + i, "\033[%*u%c", &final) == 1 || sscanf(octets + i, "\033[%c", &final) == 1, 1);
		if (final == 'K')
			memset(model->cells[model->row] + model->column, ' ', 80 - model->column);
		else if (final == 'J')
			for (unsigned r = 0; r < 24; r++)
				memset(model->cells[r], ' ', 80);
		else
			assert_int_equal(final, 'm');
		while (octets[i] != final)
			i++;
	}
}

static void test_paint(void **state)
{
	static char paint[SCREEN_PAINT_SIZE + 1];
	struct watch_board *board = board_new();
	struct model differences = { 0 }, anew = { 0 };
	size_t n;

	(void)state;
	draw_in(board, 80, 24, false, QUANTITY_GRAMS);
	n = screen_paint(&screen, NULL, paint, SCREEN_PAINT_SIZE);
	paint[n] = '\0';
	play(&differences, paint, n);
	before = screen;
	assert_true(screen_paint(&screen, &before, paint, SCREEN_PAINT_SIZE) < 16); /* nothing new: the cursor alone */
	board_ask(board, "ask-1", "12:44:00", BOARD_NOW);
	draw_in(board, 80, 24, false, QUANTITY_GRAMS);
	n = screen_paint(&screen, &before, paint, SCREEN_PAINT_SIZE);
	paint[n] = '\0';
	play(&differences, paint, n);
	n = screen_paint(&screen, NULL, paint, SCREEN_PAINT_SIZE);
	paint[n] = '\0';
	play(&anew, paint, n);
	assert_memory_equal(differences.cells, anew.cells, sizeof anew.cells);
	assert_int_equal(differences.row, anew.row);
	assert_int_equal(differences.column, anew.column);
	board_free(board);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_nothing),
		cmocka_unit_test(test_one),
		cmocka_unit_test(test_new_pup),
		cmocka_unit_test(test_several),
		cmocka_unit_test(test_restless_and_old),
		cmocka_unit_test(test_answered),
		cmocka_unit_test(test_tare_off),
		cmocka_unit_test(test_battery_and_radio),
		cmocka_unit_test(test_no_daemon),
		cmocka_unit_test(test_concern),
		cmocka_unit_test(test_round_of_many),
		cmocka_unit_test(test_long_names),
		cmocka_unit_test(test_tiny),
		cmocka_unit_test(test_sweep),
		cmocka_unit_test(test_ounces),
		cmocka_unit_test(test_digits),
		cmocka_unit_test(test_paint),
	};

	if (!setlocale(LC_CTYPE, "C.UTF-8")) /* in the C library itself since glibc 2.35 */
		return 77;
	(void)setenv("TZ", "UTC0", 1); /* no memory: the tests would tell */
	tzset();
	return cmocka_run_group_tests(tests, NULL, NULL);
}
