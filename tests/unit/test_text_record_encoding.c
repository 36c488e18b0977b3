/* text/record.h: the same records from the same text, whatever its encoding and line ends. UTF-16: RFC 2781; UTF-8: RFC
 * 3629; what "latin-1" means: WHATWG Encoding Standard, "Names and labels" and index windows-1252. */
#include "records.h"

static const struct records_case texts[] = {
    {SHAPE_LINES, "[K\xc3\xbchlung]\nTemp\xc2\xb0 = 80 \xc2\xb5\n; note\nx = 1\n",
     "2:9 K\xc3\xbchlung/Temp\xc2\xb0 = 80 \xc2\xb5\n4:5 K\xc3\xbchlung/x = 1\n"},
    {SHAPE_TABLE,
     "Z\xc3\xbcndung\n\xc2\xb0"
     "C,\xc3\xa4,2\n30,\xc3\xb6\xc3\xb6,4\n",
     "2:4 Z\xc3\xbcndung/\xc2\xb0"
     "C/1 = \xc3\xa4\n2:6 Z\xc3\xbcndung/\xc2\xb0"
     "C/2 = 2\n"
     "3:4 Z\xc3\xbcndung/30/1 = \xc3\xb6\xc3\xb6\n3:7 Z\xc3\xbcndung/30/2 = 4\n"},
    {SHAPE_XML, "<?xml version='1.0' encoding='ISO-8859-1'?>\n<t a='\xc3\xa4'>\n<b>\xc2\xb0 1</b><c>2</c>\n</t>\n",
     "2:7 t/@a = \xc3\xa4\n3:4 t/b = \xc2\xb0 1\n3:14 t/c = 2\n"},
    {SHAPE_JSON, "{\"\xc3\xa4\":\n \"\xc2\xb0 1\", \"b\": 2}\n", "2:3 \xc3\xa4 = \xc2\xb0 1\n2:14 b = 2\n"},
    {SHAPE_YAML, "\xc3\xa4: \xc2\xb0 1\nb:\n  - '\xc3\xbc'\n", "1:4 \xc3\xa4 = \xc2\xb0 1\n3:6 b/1 = \xc3\xbc\n"},
};
#define TEXTS (sizeof texts / sizeof *texts)

static const char *const line_ends[] = {"\n", "\r\n", "\r"};

static struct slice with_line_ends(struct arena *arena, const char *text, const char *line_end)
{
  char *copy = arena_alloc(arena, 2 * strlen(text)), *to = copy;
  for (; *text != '\0'; text++) {
    const char *from = *text == '\n' ? line_end : text;
    size_t size = *text == '\n' ? strlen(line_end) : 1;
    memcpy(to, from, size);
    to += size;
  }
  return (struct slice){copy, (size_t)(to - copy)};
}

/* The texts hold no character over U+07FF: one or two bytes each. */
static size_t code_at(struct slice text, size_t at, unsigned *code)
{
  unsigned first = (unsigned char)text.at[at];
  *code = first;
  if (first < 0x80)
    return 1;
  *code = (first & 0x1Fu) << 6 | ((unsigned char)text.at[at + 1] & 0x3Fu);
  return 2;
}

/* `width` 1: Latin-1; 2: UTF-16. */
static struct slice encoded(struct arena *arena, struct slice text, const char *mark, size_t width, bool big)
{
  size_t size = strlen(mark);
  char *copy = arena_alloc(arena, size + 2 * text.size);
  memcpy(copy, mark, size);
  unsigned code = 0;
  for (size_t at = 0; at < text.size;) {
    at += code_at(text, at, &code);
    char high = (char)(code >> 8), low = (char)(code & 0xFFu);
    if (width == 2)
      copy[size++] = big ? high : low;
    copy[size++] = width == 2 && !big ? high : low;
  }
  return (struct slice){copy, size};
}

static struct slice marked(struct arena *arena, struct slice text)
{
  return slice_of(arena_print(arena, "\xEF\xBB\xBF%.*s", SLICE_ARG(text)));
}

static void every_encoding_gives_the_same_records(void **state)
{
  (void)state;
  for (size_t i = 0; i < TEXTS; i++) {
    for (size_t j = 0; j < sizeof line_ends / sizeof *line_ends; j++) {
      struct run run = run_new();
      struct arena *arena = run.arena;
      struct record_style style = record_style_usual(arena, texts[i].shape);
      struct slice text = with_line_ends(arena, texts[i].bytes, line_ends[j]);
      struct {
        struct slice bytes;
        enum record_encoding encoding;
      } ways[] = {
          {text, ENCODING_AUTO},
          {text, ENCODING_UTF8},
          {marked(arena, text), ENCODING_AUTO},
          {marked(arena, text), ENCODING_LATIN1}, /* the mark wins */
          {encoded(arena, text, "", 1, false), ENCODING_LATIN1},
          {encoded(arena, text, "\xFF\xFE", 2, false), ENCODING_AUTO},
          {encoded(arena, text, "\xFE\xFF", 2, true), ENCODING_AUTO},
          {encoded(arena, text, "\xFE\xFF", 2, true), ENCODING_UTF8},
          {encoded(arena, text, "", 2, false), ENCODING_UTF16},
          {encoded(arena, text, "", 2, true), ENCODING_UTF16},
      };
      for (size_t k = 0; k < sizeof ways / sizeof *ways; k++)
        assert_string_equal(records_of(&run, records_source(&run, ways[k].bytes), ways[k].encoding, &style),
                            texts[i].records);
      run_free(&run);
    }
  }
}

static struct slice decoded(struct run *run, struct slice bytes, enum record_encoding encoding)
{
  struct source *source = records_source(run, bytes);
  assert_true(record_decode(run->arena, source, encoding, &run->problems));
  return source->bytes;
}

#define SLICE_LITERAL(text) ((struct slice){(text), sizeof(text) - 1})

static void characters_beyond_16_bits_are_pairs(void **state)
{
  (void)state;
  struct run run = run_new();
  /* RFC 2781, section 5: "*=Ra" with U+12345 for the star, as it stands there in both orders */
  static const char expected[] = "\xf0\x92\x8d\x85=Ra";
  assert_true(slice_is(decoded(&run, SLICE_LITERAL("\xFE\xFF\xD8\x08\xDF\x45\x00\x3D\x00\x52\x00\x61"), ENCODING_AUTO),
                       expected));
  assert_true(slice_is(decoded(&run, SLICE_LITERAL("\xFF\xFE\x08\xD8\x45\xDF\x3D\x00\x52\x00\x61\x00"), ENCODING_AUTO),
                       expected));
  assert_true(slice_is(decoded(&run, SLICE_LITERAL("\xFF\xFE"), ENCODING_AUTO), ""));
  assert_true(slice_is(decoded(&run, SLICE_LITERAL(""), ENCODING_UTF16), ""));
  run_free(&run);
}

static void latin1_has_the_signs_of_windows(void **state)
{
  (void)state;
  struct run run = run_new();
  assert_true(slice_is(decoded(&run, SLICE_LITERAL("\x80\x82\x93\x96\x9f\xa0\xb0\xff"), ENCODING_LATIN1),
                       "\xe2\x82\xac\xe2\x80\x9a\xe2\x80\x9c\xe2\x80\x93\xc5\xb8\xc2\xa0\xc2\xb0\xc3\xbf"));
  run_free(&run);
}

static void lone_returns_end_lines(void **state)
{
  (void)state;
  struct run run = run_new();
  assert_true(slice_is(decoded(&run, SLICE_LITERAL("a\rb\r\nc\r\r\nd\r"), ENCODING_AUTO), "a\nb\r\nc\n\r\nd\n"));
  run_free(&run);
}

/* Also when somebody asked for a line before. */
static void lines_are_those_of_the_decoded_text(void **state)
{
  (void)state;
  struct run run = run_new();
  struct source *source = records_source(&run, slice_of(""));
  struct record_style style = record_style_usual(run.arena, SHAPE_LINES);
  struct position position;
  char *many = arena_alloc(run.arena, 70000);
  for (size_t i = 0; i < 70000; i++)
    many[i] = '\r';
  memcpy(many + 69990, "a = 1", 5);
  source->bytes = (struct slice){many, 70000};
  assert_true(sources_position(run.sources, (struct place){source->id, 69994, 69995}, &position));
  assert_int_equal(position.line, 1);
  assert_string_equal(records_of(&run, source, ENCODING_AUTO, &style), "69991:5 a = 1\n");
  run_free(&run);
}

static void wrong_bytes_are_refused(void **state)
{
  (void)state;
  static const struct {
    struct slice bytes;
    enum record_encoding encoding;
    size_t at;
    const char *message;
  } cases[] = {
      {{"ab\xe4 c", 5}, ENCODING_AUTO, 2, "this byte is not valid UTF-8"},
      {{"\xEF\xBB\xBF\xC0\xAF", 5}, ENCODING_AUTO, 3, "this byte is not valid UTF-8"},
      {{"ab\0c", 4}, ENCODING_AUTO, 2, "a NUL byte: this is not a text file, or not UTF-8"},
      {{"a\0b\0", 4}, ENCODING_UTF8, 1, "a NUL byte: this is not a text file, or not UTF-8"},
      {{"ab\0c", 4}, ENCODING_LATIN1, 2, "this byte is no character of Latin-1"},
      {{"ab\x81", 3}, ENCODING_LATIN1, 2, "this byte is no character of Latin-1"},
      {{"\xFF\xFE"
        "a\0b",
        5},
       ENCODING_AUTO,
       4,
       "the file has an odd number of bytes: it is not UTF-16, or cut short"},
      {{"\xFF\xFE"
        "a\0\0\xD8",
        6},
       ENCODING_AUTO,
       4,
       "half of a UTF-16 surrogate pair"},
      {{"\xFF\xFE\0\xD8"
        "a\0",
        6},
       ENCODING_AUTO,
       2,
       "half of a UTF-16 surrogate pair"},
      {{"\xFE\xFF\xDC\0\0a", 6}, ENCODING_AUTO, 2, "half of a UTF-16 surrogate pair"},
      {{"\xFE\xFF\xDC\1\xDC\1", 6}, ENCODING_AUTO, 2, "half of a UTF-16 surrogate pair"},
      {{"\xFE\xFF\0a\0\0", 6}, ENCODING_AUTO, 4, "a NUL character: this is not a text file, or not in this encoding"},
  };
  for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
    struct run run = run_new();
    struct source *source = records_source(&run, cases[i].bytes);
    assert_false(record_decode(run.arena, source, cases[i].encoding, &run.problems));
    assert_int_equal(run.problems.count, 1);
    assert_string_equal(run.problems.items[0].message, cases[i].message);
    assert_int_equal(run.problems.items[0].place.start, cases[i].at);
    assert_int_equal(run.problems.items[0].place.source, source->id);
    assert_true(slice_equal(source->bytes, cases[i].bytes));
    run_free(&run);
  }
}

/* Every pair of bytes as UTF-16 and every byte as Latin-1 either is refused or gives UTF-8 that is taken back. */
static void what_is_decoded_is_utf8(void **state)
{
  (void)state;
  size_t taken = 0;
  for (unsigned code = 0; code < 0x10000; code++) {
    char bytes[] = {(char)(code >> 8), (char)(code & 0xFFu), '\0', 'a'};
    struct run run = run_new();
    struct source *source = records_source(&run, (struct slice){bytes, code < 0x100 ? 1 : sizeof bytes});
    if (code < 0x100)
      bytes[0] = bytes[1];
    if (record_decode(run.arena, source, code < 0x100 ? ENCODING_LATIN1 : ENCODING_UTF16, &run.problems)) {
      taken++;
      source->bytes = arena_slice(run.arena, source->bytes);
      assert_true(record_decode(run.arena, source, ENCODING_UTF8, &run.problems));
    }
    run_free(&run);
  }
  /* 255 less five holes; 65 280 less the surrogates, but for the eight that end in 00: with these the text looks
   * little-endian */
  assert_int_equal(taken, 250 + 65280 - (2048 - 8));
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(every_encoding_gives_the_same_records),
      cmocka_unit_test(characters_beyond_16_bits_are_pairs),
      cmocka_unit_test(latin1_has_the_signs_of_windows),
      cmocka_unit_test(lone_returns_end_lines),
      cmocka_unit_test(lines_are_those_of_the_decoded_text),
      cmocka_unit_test(wrong_bytes_are_refused),
      cmocka_unit_test(what_is_decoded_is_utf8),
  };
  return cmocka_run_group_tests_name("text/record: encodings", tests, NULL, NULL);
}
