/* Curves and tables put together from exports: however it is laid out, one table comes out. Common practice, no source.
 */
#include "test_read_adapter_help.h"

#define TABLE                                                                                           \
  "ignition.spark_advance:\n  x: {unit: rpm, at: [800, 3000, 6000]}\n  y: {unit: kPa, at: [30, 100]}\n" \
  "  value:\n    unit: deg\n    rows:\n      - [18, 36, 38]\n      - [10, 24, 28]\n"
#define CURVE "ignition.dwell:\n  x: {unit: V, at: [8, 12, 16]}\n  value: {unit: ms, at: [6, 3.5, 2]}\n"
#define SPARK "settings:\n  ignition.spark_advance:\n"
#define ENTRY " | its entry is in line "

static void test_lines(void **state)
{
  (void)state;
  const struct adapting rows[] = {
      {LINES SPARK "    x: {match: X, split: ','}\n    y: {match: Y, split: ','}\n    value: {match: ^Z, split: ','}\n",
       "X = 800,3000,6000\nY = 30,100\nZ1 = 18,36,38\nZ2 = 10,24,28\n", TABLE},
      /* one line, and a separator at its end */
      {LINES SPARK "    x: {match: X, split: '\\s+'}\n    y: {is: [30, 100]}\n    value: {match: ^Z, split: '[; ]+'}\n",
       "X = 800 3000\t6000\nZ = 18;36;38;10;24;28;\n", TABLE},
      {LINES SPARK "    x: {match: X, split: ','}\n    y: {match: Y, split: ','}\n"
                   "    value: {match: ^Z, split: ',', order: columns}\n",
       "X = 800,3000,6000\nY = 30,100\nZ800 = 18,10\nZ3000 = 36,24\nZ6000 = 38,28\n", TABLE},
      /* from the last to the first, both ways */
      {LINES SPARK "    x: {match: X, split: ',', flip: yes}\n    y: {match: Y, split: ',', flip: yes}\n"
                   "    value: {match: ^Z, split: ',', flip: [x, y]}\n",
       "X = 6000,3000,800\nY = 100,30\nZ1 = 28,24,10\nZ2 = 38,36,18\n", TABLE},
      {LINES SPARK "    x: {match: X, split: ','}\n    y: {match: Y, split: ',', flip: yes}\n"
                   "    value: {match: ^Z, split: ',', flip: y}\n",
       "X = 800,3000,6000\nY = 100,30\nZ1 = 10,24,28\nZ2 = 18,36,38\n", TABLE},
      {LINES SPARK "    x: {match: X, split: ','}\n    y: {match: Y, split: ','}\n"
                   "    value: {match: ^Z, split: ',', order: columns, flip: x}\n",
       "X = 800,3000,6000\nY = 30,100\nZ6000 = 38,28\nZ3000 = 36,24\nZ800 = 18,10\n", TABLE},
      /* breakpoints in the path; unused ones left out */
      {LINES SPARK "    x: {match: X, split: ',', unused: '-1'}\n    y: {match: '^Z(?<y>\\d+)', from: y}\n"
                   "    value: {match: ^Z, split: ',', unused: x}\n",
       "X = 800,3000,6000,-1\nZ30 = 18,36,38,x\nZ100 = 10,24,28,x\n", TABLE},
      /* one cell a record, in any order, counted from any number */
      {LINES SPARK "    x: {match: ^X}\n    y: {match: ^Y}\n"
                   "    value: {match: '^Z(?<row>\\d)(?<column>\\d)', at: yes}\n",
       "X1 = 800\nX2 = 3000\nX3 = 6000\nY1 = 30\nY2 = 100\nZ23 = 28\nZ22 = 24\nZ21 = 10\nZ13 = 38\nZ11 = 18\nZ12 = "
       "36\n",
       TABLE},
      /* the breakpoints repeated at every cell */
      {LINES SPARK "    x: {match: '^Z(?<x>\\d+)@', from: x, once: yes}\n    y: {match: '@(?<y>\\d+)', from: y, once: "
                   "yes}\n    value: {match: ^Z}\n",
       "Z800@30 = 18\nZ3000@30 = 36\nZ6000@30 = 38\nZ800@100 = 10\nZ3000@100 = 24\nZ6000@100 = 28\n", TABLE},
      {LINES "settings:\n  ignition.dwell:\n    x: {match: V, split: ','}\n    value: {match: T, split: ',', unit: us, "
             "flip: yes}\n",
       "V = 8,12,16\nT = 2000,3500,6000\n",
       "ignition.dwell:\n  x: {unit: V, at: [8, 12, 16]}\n  value: {unit: us, at: [6000, 3500, 2000]}\n"},
      {LINES "settings:\n  ignition.dwell:\n    is: {x: [8, 12, 16], value: [6, 3.5, 2]}\n", "a = 1\n", CURVE},
  };
  CHECK(rows);
}

static void test_other_shapes(void **state)
{
  (void)state;
  const struct adapting rows[] = {
      {START "reads: {shape: table}\n" SPARK "    x: {match: '^Spark/rpm/'}\n"
             "    y: {match: '^Spark/(?<load>\\d+)/1$', from: load}\n    value: {match: '^Spark/\\d+/'}\n",
       "Spark\nrpm,800,3000,6000\n30,18,36,38\n100,10,24,28\n", TABLE},
      /* transposed: a row for each speed */
      {START "reads: {shape: table, delimiter: ';'}\n" SPARK "    x: {match: '^Spark/(?<x>\\d+)/1$', from: x}\n"
             "    y: {match: '^Spark/kPa/'}\n    value: {match: '^Spark/\\d+/', order: columns}\n",
       "Spark\nkPa;30;100\n800;18;10\n3000;36;24\n6000;38;28\n", TABLE},
      {START "reads: {shape: json}\n" SPARK "    x: {match: '^spark/x/'}\n    y: {match: '^spark/y/'}\n"
             "    value: {match: '^spark/z/'}\n",
       "{\"spark\": {\"x\": [800, 3000, 6000], \"y\": [30, 100], \"z\": [[18, 36, 38], [10, 24, 28]]}}", TABLE},
      {START "reads: {shape: xml}\n" SPARK "    x: {match: 'Spark/x$', split: ' +'}\n"
             "    y: {match: 'Spark/row[^/]*/@load$'}\n    value: {match: 'Spark/row[^/@]*$', split: ' +'}\n",
       "<t><map name='Spark'><x>800 3000 6000</x><row load='30'>18 36 38</row><row load='100'>10 24 28</row></map></t>",
       TABLE},
  };
  CHECK(rows);
}

static void test_missing(void **state)
{
  (void)state;
#define AXES \
  LINES SPARK "    x: {match: X, split: ','}\n    y: {match: Y, split: ','}\n    value: {match: ^Z, split: ','}\n"
  const struct adapting rows[] = {
      /* axes that stand there for another table */
      {AXES, "X = 1,2\nY = 3,4\n", ""},
      {AXES "    needed: yes\n", "X = 1,2\nY = 3,4\n",
       "1:1 'X' 'ignition.spark_advance.value': nothing in the export matches, and the adapter needs it" ENTRY
       "7 of adapter.yaml"},
      {AXES, "X = 1,2\nZ = 3,4\n",
       "2:5 '3,4' 'ignition.spark_advance.y': nothing in the export matches" ENTRY "6 of adapter.yaml"},
  };
  CHECK(rows);
}

static void test_refusals(void **state)
{
  (void)state;
#define CELLS \
  LINES SPARK "    x: {is: [1, 2]}\n    y: {is: [3, 4]}\n    value: {match: '^Z(?<row>\\w)(?<column>\\d)', at: yes}\n"
  const struct adapting rows[] = {
      {AXES, "X = 1,2\nY = 3,4\nZ = 1,2,3\n",
       "3:5 '1,2,3' 'ignition.spark_advance.value': 3 values, but x has 2 breakpoints and y 2: 4 cells" ENTRY
       "7 of adapter.yaml"},
      /* the place is that of the wrong number within its line; other problems of the table are found as well */
      {AXES, "X = 1,b\nY = 3,4\nZ = 1,2,c,4\n",
       "1:7 'b' 'ignition.spark_advance.x': 'b' is no number" ENTRY "5 of adapter.yaml\n"
       "3:9 'c' 'ignition.spark_advance.value': 'c' is no number" ENTRY "7 of adapter.yaml"},
      {LINES "settings:\n  ignition.dwell:\n    x: {match: V, split: ','}\n    value: {match: T, split: ','}\n",
       "V = 8,12,16\nT = 6,3\n",
       "2:5 '6,3' 'ignition.dwell.value': 2 values, but 3 breakpoints" ENTRY "6 of adapter.yaml"},
      {CELLS, "Z01 = 1\nZ02 = 2\nZ11 = 3\nZ11 = 4\n",
       "4:7 '4' 'ignition.spark_advance.value': row 2, column 1 was there before" ENTRY "7 of adapter.yaml"},
      {CELLS, "Z01 = 1\nZ02 = 2\nZ11 = 3\nZ31 = 4\n",
       "4:7 '4' 'ignition.spark_advance.value': row 4, column 1 of a table of 2 rows and 2 columns" ENTRY
       "7 of adapter.yaml"},
      {CELLS, "Za1 = 1\nZ02 = 2\nZ11 = 3\nZ12 = 4\n",
       "1:7 '1' 'ignition.spark_advance.value': 'a' in its path is no number of a row or column" ENTRY
       "7 of adapter.yaml"},
  };
  CHECK(rows);
}

/* LIMIT_AXIS breakpoints are taken, one more is not. */
static void test_limit(void **state)
{
  (void)state;
  for (size_t count = LIMIT_AXIS; count <= LIMIT_AXIS + 1; count++) {
    char *text = malloc(4 * count + 16), *at = text;
    assert_non_null(text);
    at += sprintf(at, "V = ");
    for (size_t i = 0; i < count; i++)
      at += sprintf(at, "%zu,", i % 10);
    sprintf(at, "\n");
    struct adapted a = adapted_new(
        LINES "settings:\n  ignition.dwell: {x: {match: V, split: ','}, value: {match: V, split: ','}}\n", text);
    if (count == LIMIT_AXIS)
      assert_non_null(a.settings);
    else
      assert_string_equal(adapted_text(&a) + strlen(adapted_text(&a)) -
                              strlen("257 breakpoints; 1 to 256 are accepted" ENTRY "4 of adapter.yaml"),
                          "257 breakpoints; 1 to 256 are accepted" ENTRY "4 of adapter.yaml");
    adapted_free(&a);
    free(text);
  }
}

/* Each cell's place is its own text in the export. */
static void test_places(void **state)
{
  (void)state;
  const char *export = "X = 1,2\nY = 3,4\nZ1 = 11,12\nZ2 = 13,14\n";
  struct adapted a = adapted_new(AXES, export);
  assert_non_null(a.settings);
  const struct entry *entry = vocabulary_find(a.run.vocabulary, SCOPE_TUNE, slice_of("ignition.spark_advance"));
  const struct value *value = a.settings->values[vocabulary_index(a.run.vocabulary, SCOPE_TUNE, entry)];
  assert_non_null(value);
  static const char *const cells[] = {"11", "12", "13", "14"};
  for (size_t i = 0; i < 4; i++) {
    struct place place = value->as.table.place[i];
    assert_memory_equal(export + place.start, cells[i], 2);
    assert_int_equal(place.end - place.start, 2);
  }
  adapted_free(&a);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_lines),    cmocka_unit_test(test_other_shapes), cmocka_unit_test(test_missing),
      cmocka_unit_test(test_refusals), cmocka_unit_test(test_limit),        cmocka_unit_test(test_places),
  };
  return cmocka_run_group_tests_name("curves and tables by adapters", tests, NULL, NULL);
}
