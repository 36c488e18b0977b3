/* text/record.h: what an export that nobody described is taken for. The thresholds are common practice, no source. */
#include "records.h"

static const struct {
  const char *bytes;
  enum record_shape shape;
  char delimiter;
  const char *separator;
} exports[] = {
    {"<?xml version='1.0'?><a/>", SHAPE_XML, ',', "="},
    {"\xEF\xBB\xBF\n <a/>", SHAPE_XML, ',', "="},
    {"{\"a\": 1}", SHAPE_JSON, ',', "="},
    {"\n[{\"a\": 1}]", SHAPE_JSON, ',', "="},
    {"[1, 2]\n", SHAPE_JSON, ',', "="},
    {"[\n1,\n2]\n", SHAPE_JSON, ',', "="},
    {"a: 1\nb:\n  c: 2\n  d: [1, 2]\n", SHAPE_YAML, ',', "="},
    {"# x\nlist:\n- 1\n- 2\n", SHAPE_YAML, ',', "="},
    {"[Engine]\nCylinders = 4\n\n[Map]\nRPM = 500, 1000\n", SHAPE_LINES, ',', "="},
    {"Cylinders=4\nRow = 1;2;3\nRow = 4;5;6\nfree words\n", SHAPE_LINES, ',', "="},
    {"Cylinders: 4\nRev limit: 7200 rpm\n", SHAPE_LINES, ',', ":"},
    {"[Engine]\nCylinders : 4\nRev limit : 7200 rpm\n", SHAPE_LINES, ',', ":"},
    {"RPM 500 1000\nMAP 30 60\n", SHAPE_LINES, ',', " "},
    {"Title,,\nMap,500,1000\n30,10,12\n60,14,16\n", SHAPE_TABLE, ',', "="},
    {"Titel;;\n;500;1000\n30;1,5;1,6\n60;2,5;2,6\n", SHAPE_TABLE, ';', "="},
    {"Title\n\t500\t1000\n30\t1,5\t1,6\n", SHAPE_TABLE, '\t', "="},
    {"a|b\n1|2\n", SHAPE_TABLE, '|', "="},
    {"[Notes]\nlist:\n  - a: 1\n", SHAPE_LINES, ',', ":"},
    {"[Map]\n500,1000\n10,12\n", SHAPE_LINES, ',', "="},
    {"Axis:\n  a: 1\n10,12\n14,16\n18,20\n22,24\n", SHAPE_TABLE, ',', "="},
    {"", SHAPE_LINES, ',', "="},
    {"free words\n", SHAPE_LINES, ',', "="},
};

static void exports_are_taken_for_what_they_look_like(void **state)
{
  (void)state;
  for (size_t i = 0; i < sizeof exports / sizeof *exports; i++) {
    struct run run = run_new();
    const struct source *source = records_source(&run, slice_of(exports[i].bytes));
    struct record_style style = record_style_guess(run.arena, source);
    assert_int_equal(style.shape, exports[i].shape);
    assert_int_equal(style.delimiter, exports[i].delimiter);
    assert_true(slice_is(style.separator, exports[i].separator));
    assert_int_equal(style.encoding, ENCODING_AUTO);
    run_free(&run);
  }
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(exports_are_taken_for_what_they_look_like),
  };
  return cmocka_run_group_tests_name("text/record: guessed styles", tests, NULL, NULL);
}
