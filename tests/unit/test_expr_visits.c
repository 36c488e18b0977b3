/* visits(TABLE, x, y), fields of all items of a collection, sum() and region(). Times are checked against numpy. */
#include "expr_help.h"

#define VISITS "let v = visits(tune.ignition.spark_advance, log.engine_speed, log.manifold_pressure): "

static const char spark[] = "ignition.spark_advance:\n"
                            "  x: {unit: rpm, at: [800, 1500, 2200, 3500, 6000]}\n"
                            "  y: {unit: kPa, at: [30, 60, 100, 160]}\n"
                            "  value: {unit: deg, rows: [[20, 24, 28, 32, 36], [18, 22, 26, 30, 34], "
                            "[14, 16, 20, 24, 26], [8, 10, 14, 18, 20]]}\n";

/* numpy 1.24, default_rng(20261125): 48 rows with equal times, a gap, missing cells and values outside the axes. The
 * weights are numpy.interp of unit vectors over each axis, the times numpy.einsum('ri,ci,i->rc', ...) with each row's
 * step to the next one. */
static const char numpy_log[] = "time (s),engine_speed (rpm),manifold_pressure (kPa)\n"
                                "0.05,2890.2,146.45\n0.1,4407.1,111.03\n0.1,2750.5,127.57\n"
                                "0.1,5460.2,96.26\n1,2227,133.35\n1.04,5609.1,103.77\n"
                                "1.08,,166.73\n1.33,1016.7,139.08\n1.37,4590.8,178.66\n"
                                "1.41,2120.1,72.88\n1.45,2469.6,31.52\n1.45,3349.6,171.15\n"
                                "1.5,4055.8,32.86\n1.6,6339.4,61.7\n1.7,4091.9,121.38\n"
                                "1.95,5568.9,145.58\n2,5999.9,163.59\n2.25,1766.8,43.79\n"
                                "2.35,1913.1,68.4\n2.39,5055.4,145.19\n2.44,3510.1,118.64\n"
                                "2.44,3783.4,94.42\n2.49,2930.5,107.9\n2.74,,106.01\n"
                                "2.74,4150.4,113.78\n2.99,1292.9,36.44\n3.89,2001.4,169.82\n"
                                "3.89,4179.3,69.2\n3.93,6248.7,54.12\n4.03,3710.2,51.19\n"
                                "11.07,4065.3,123.72\n11.07,,130.61\n11.11,576.9,177.46\n"
                                "11.36,,42.07\n11.4,5264.7,172.49\n11.4,1969.1,110.06\n"
                                "11.4,4682,36.43\n11.4,3522,27.4\n11.65,4930,47.49\n"
                                "11.69,4110.4,51.62\n11.69,1830,136.46\n12.59,2042.9,132.28\n"
                                "12.59,2667.2,124.88\n12.84,5700.6,177.39\n13.74,1125.9,123.44\n"
                                "13.78,892,37.15\n13.88,3385.4,156.59\n13.93,4547.1,111.76\n";
static const double numpy_times[] = {0.275268019047618,  0.541137561904762,  0.0205944190476191, 0.325293157333334,
                                     0.0514535093333336, 0.0778605523809519, 0.183666620952381,  0.0601928266666667,
                                     0.0641798486666669, 0.266748484666667,  0.0226549828571432, 0.207216548571428,
                                     0.394615882673992,  0.682431081097436,  0.788768171466667,  0.276339302857143,
                                     0.304416411428571,  0.388525333150183,  0.425966251364103,  1.15267103453333};

static const char *at_cell(struct bench *bench, size_t row, size_t column, const char *what)
{
  static const double x[] = {800, 1500, 2200, 3500, 6000}, y[] = {30, 60, 100, 160};
  return arena_print(bench->arena, VISITS "%s(where(v.time, v.x == %g rpm and v.y == %g kPa))", what, x[column],
                     y[row]);
}

static void times_are_those_of_numpy(void **state)
{
  struct bench bench = bench_new(state, (struct given){.settings = spark, .log = numpy_log});
  for (size_t i = 0; i < 20; i++) {
    const char *text = at_cell(&bench, i / 5, i % 5, "sum");
    expect_near(text, bench_number(&bench, text, "s"), numpy_times[i], 1e-8);
    expect_near("cells there", bench_number(&bench, at_cell(&bench, i / 5, i % 5, "count"), "1"), 1, 0);
  }
  bench_free(&bench);
}

/* A fourth column for the same log, uniform(0, 5) of default_rng(7), and numpy.einsum of step and sample over that of
 * step alone. */
static const char *const numpy_samples[] = {
    "3.13", "4.49", "3.88", "1.13", "1.5",  "4.37", "0.03", "4.11", "",     "2.34", "1.52", "1.39",
    "1.27", "2.23", "2.52", "2.77", "4.98", "3.96", "3.11", "4.94", "1.08", "0.8",  "3.06", "0.22",
    "",     "2.57", "2.33", "4.59", "3.15", "2.57", "2.48", "1.24", "",     "0.96", "",     "1",
    "1.85", "0.02", "4.15", "",     "1.34", "4.4",  "2.55", "",     "3.2",  "3.71", "0.46", "2.71"};
static const double numpy_means[] = {2.84398045513529,  2.6769821017608,  3.96,
                                     0.380987863468453, 2.46673012779537, 2.87309424981756,
                                     2.83893177883705,  3.05007697041198, 2.79330965888951,
                                     2.39339744682886,  3.58678251293565, 1.53607393151023,
                                     2.12361875407833,  2.13373053334352, 1.41795413552104,
                                     3.82146856690859,  1.45784246798884, 1.69460964773791,
                                     2.20970962812356,  4.60329575634349};

static void means_are_those_of_numpy(void **state)
{
  struct arena *arena = arena_new();
  const char *log = "", *at = numpy_log;
  size_t rows = 0;
  for (; *at; at = strchr(at, '\n') + 1) {
    int length = (int)(strchr(at, '\n') - at);
    log =
        arena_print(arena, "%s%.*s,%s\n", log, length, at, rows == 0 ? "knock_retard (deg)" : numpy_samples[rows - 1]);
    rows++;
  }
  assert_int_equal(rows, 1 + sizeof numpy_samples / sizeof *numpy_samples);
  struct bench bench = bench_new(state, (struct given){.settings = spark, .log = log});
  static const double x[] = {800, 1500, 2200, 3500, 6000}, y[] = {30, 60, 100, 160};
  for (size_t i = 0; i < 20; i++) {
    const char *text =
        arena_print(arena,
                    "let v = visits(tune.ignition.spark_advance, log.engine_speed, "
                    "log.manifold_pressure, log.knock_retard): max(where(v.mean, v.x == %g rpm and v.y == %g kPa))",
                    x[i % 5], y[i / 5]);
    expect_near(text, bench_number(&bench, text, "deg"), numpy_means[i], 1e-7);
  }
  bench_free(&bench);
  arena_free(arena);
}

/* A share that is rounded goes to the neighbour: what the log's rows stand for is all there. */
static void no_time_is_lost(void **state)
{
  struct bench bench = bench_new(state, (struct given){.settings = spark, .log = numpy_log});
  double all = bench_number(&bench, VISITS "sum(v.time)", "s");
  double held = bench_number(&bench, "duration(log.engine_speed > 0 rpm and log.manifold_pressure > 0 kPa)", "s");
  assert_true(held > 5);
  expect_near("all cells", all, held, 1e-9);
  bench_free(&bench);
}

static const char *drive(struct arena *arena, int rate, int times, double later)
{
  const char *log = "time (s),engine_speed (rpm),manifold_pressure (kPa)\n";
  for (int i = 0; i <= 4 * rate; i++) {
    double t = (double)i / rate;
    for (int k = 0; k < times; k++)
      log = arena_print(arena, "%s%.4f,%.6g,%.6g\n", log, t + later, 1000 + 1000 * t, 40 + 25 * t);
  }
  return log;
}

/* Rows doubled and time shifted: the same. Twice the rate: within the time of a row. */
static void how_it_was_logged_does_not_show(void **state)
{
  struct arena *arena = arena_new();
  const char *logs[] = {drive(arena, 10, 1, 0), drive(arena, 10, 2, 0), drive(arena, 10, 1, 100),
                        drive(arena, 20, 1, 0)};
  double first[20] = {0};
  for (size_t k = 0; k < 4; k++) {
    struct bench bench = bench_new(state, (struct given){.settings = spark, .log = logs[k]});
    for (size_t i = 0; i < 20; i++) {
      double time = bench_number(&bench, at_cell(&bench, i / 5, i % 5, "sum"), "s");
      if (k == 0)
        first[i] = time;
      assert_true(fabs(time - first[i]) <= (k < 3 ? 1e-9 : 0.1));
    }
    assert_true(first[13] > 0.1); /* 3500 rpm, 100 kPa */
    bench_free(&bench);
  }
  arena_free(arena);
}

static void edges_hold(void **state)
{
  struct bench bench =
      bench_new(state, (struct given){.settings = spark,
                                      .log = "time (s),engine_speed (rpm),manifold_pressure (kPa)\n"
                                             "0,9000,300\n0.5,9000,300\n0.75,100,5\n1,1150,45\n2,1150,45\n"});
  expect_near("above both", bench_number(&bench, at_cell(&bench, 3, 4, "sum"), "s"), 0.75, 1e-9);
  expect_near("under both, and a quarter of 1 s", bench_number(&bench, at_cell(&bench, 0, 0, "sum"), "s"), 0.5, 1e-9);
  expect_shown(&bench, VISITS "count(v.time > 0 s)", "5");
  expect_shown(&bench, VISITS "region(v, v.time > 0 s)", "800 to 1500 rpm, 30 to 60 kPa");
  bench_free(&bench);
}

/* The last row of a stretch stands for nothing; without rows that count no cell was visited. */
static void what_does_not_count(void **state)
{
  struct bench bench = bench_new(state, (struct given){.settings = spark,
                                                       .log = "time (s),engine_speed (rpm),manifold_pressure (kPa)\n"
                                                              "0,2200,\n0.5,,60\n1,2200,60\n9,2200,60\n"});
  expect_shown(&bench, VISITS "sum(v.time)", "0 s");
  expect_shown(
      &bench,
      "let v = visits(tune.ignition.spark_advance, log.engine_speed, log.manifold_pressure, log.engine_speed): "
      "count(v.mean)",
      "0");
  expect_missing(&bench,
                 "visits(tune.ignition.spark_advance, log.engine_speed, log.manifold_pressure, log.knock_retard)",
                 "log.knock_retard");
  expect_shown(&bench, VISITS "count(v.time)", "20");
  expect_missing(&bench, VISITS "region(v, v.time > 0 s)", "a cell that meets the condition");
  expect_missing(&bench, "visits(tune.fuel.volumetric_efficiency, log.engine_speed, log.manifold_pressure)",
                 "tune.fuel.volumetric_efficiency");
  expect_missing(&bench, "visits(tune.ignition.spark_advance, log.engine_speed, log.boost_target)", "log.boost_target");
  bench_free(&bench);
  bench = bench_new(state, (struct given){.settings = spark});
  expect_missing(&bench, VISITS "sum(v.time)", "log.engine_speed; log.manifold_pressure");
  bench_free(&bench);
  bench = bench_new(
      state, (struct given){.settings = "ignition.spark_advance: {x: {unit: rpm, at: [900, 900]}, y: {unit: kPa, at: "
                                        "[30, 90]}, value: {unit: deg, rows: [[1, 2], [3, 4]]}}\n",
                            .log = numpy_log});
  expect_missing(&bench, VISITS "sum(v.time)", "tune.ignition.spark_advance with axes that increase");
  bench_free(&bench);
}

/* Steps of a few decades: the sum stops at the largest number, with any number of threads. */
static void longer_than_can_be_counted(void **state)
{
  struct arena *arena = arena_new();
  const char *log = "time (s),engine_speed (rpm),manifold_pressure (kPa)\n";
  for (int i = 0; i < 40; i++)
    log = arena_print(arena, "%s%de9,2200,60\n", log, i);
  struct bench bench = bench_new(state, (struct given){.settings = spark, .log = log});
  for (size_t threads = 1; threads <= 3; threads++) {
    bench.inputs.block_rows = 7;
    bench.inputs.threads = threads;
    expect_near("2^32 s", bench_number(&bench, VISITS "max(v.time)", "s"), 4294967296.0, 0);
  }
  bench_free(&bench);
  arena_free(arena);
}

static void all_items_at_once(void **state)
{
  struct bench bench = bench_new(
      state,
      (struct given){.settings = "fuel.warm_up_enrichment: {x: {unit: degC, at: [-20, 20, 60, 75]}, value: "
                                 "{unit: '%', at: [160, 130, 106, 102]}}\n"
                                 "ignition.spark_advance: {x: {unit: rpm, at: [1000, 3000, 6000]}, y: {unit: "
                                 "kPa, at: [40, 100]}, value: {unit: deg, rows: [[20, 36, 38], [12, 26, 36]]}}\n",
                     .job = "readings: {compression_test: [{cylinder: 1, pressure: 900 kPa}, {cylinder: 2, "
                            "pressure: 1100 kPa}]}\n"});
  expect_shown(&bench, "let p = points(tune.fuel.warm_up_enrichment): mean(p.value)", "124.5 %");
  expect_shown(&bench, "let p = points(tune.fuel.warm_up_enrichment): p.x > 20 degC", "no, no, yes, yes");
  expect_shown(&bench, "let s = steps(tune.fuel.warm_up_enrichment): slope(s.change, s.x)", "0.325 %/K");
  expect_shown(&bench, "let c = cells(tune.ignition.spark_advance): c.bend_x", "?, -14 deg, ?, ?, -4 deg, ?");
  expect_shown(&bench, "let c = cells(tune.ignition.spark_advance): count(c.value > 30 deg and c.y < 100 kPa)", "2");
  expect_shown(&bench, "let a = axis_steps(): all(a.increasing)", "yes");
  expect_shown(&bench, "sum(job.compression_test.pressure)", "2000 kPa");
  expect_shown(&bench, "let s = steps(tune.fuel.warm_up_enrichment): sum(where(s.change, s.x > 100 degC))", "0 %");
  bench_free(&bench);
}

static void the_largest_region(void **state)
{
  struct bench bench = bench_new(
      state, (struct given){.settings = "ignition.spark_advance: {x: {unit: rpm, at: [1000, 2000, 3000, 4000]}, y: "
                                        "{unit: kPa, at: [40, 60, 80]}, value: {unit: deg, rows: [[1, 1, 0, 1], [1, 1, "
                                        "0, 1], [0, 1, 0, 1]]}}\n"});
#define CELLS "let c = cells(tune.ignition.spark_advance): region(c, "
  expect_shown(&bench, CELLS "c.value == 1 deg)", "1000 to 2000 rpm, 40 to 60 kPa");
  expect_shown(&bench, CELLS "c.value == 0 deg)", "3000 rpm, 40 to 80 kPa");
  expect_shown(&bench, CELLS "c.value == 1 deg and c.x > 1000 rpm)", "4000 rpm, 40 to 80 kPa"); /* the last of equals */
  expect_shown(&bench, CELLS "c.value >= 0 deg)", "1000 to 4000 rpm, 40 to 80 kPa");
  expect_shown(&bench, CELLS "c.x == 3000 rpm and c.y == 60 kPa)", "3000 rpm, 60 kPa");
  bench_free(&bench);
}

static const char *const refused[][2] = {
    {"sum(log.engine_speed)", "a sum of samples goes by how often they were logged; take a mean or a duration"},
    {"sum(job.coolant.measured)", "temperatures cannot be added; take differences from a reference first"},
    {"visits(tune.ignition.spark_advance, log.manifold_pressure, log.engine_speed)",
     "the axis is in speed of rotation, not in pressure"},
    {"visits(tune.ignition.spark_advance, 3000 rpm, log.manifold_pressure)",
     "a series of numbers is expected here, not a number (speed of rotation)"},
    {"visits(tune.fuel.warm_up_enrichment, log.engine_speed, log.manifold_pressure)",
     "a table is expected here, not a curve"},
    {"let c = changes(): c.setting", "only fields that are numbers of one kind, or conditions, make a series"},
    {"let c = cells(tune.ignition.spark_advance): c.time", "this item has no field 'time'"},
    {"let c = cells(tune.ignition.spark_advance): c.x > log.engine_speed",
     "series over different rows do not go together: the log, each reading and each collection have their own"},
    {"let c = cells(tune.ignition.spark_advance): delay(c.x, 1 s)",
     "delay goes by the time of the log, which a reading or collection does not have"},
    {"let c = cells(tune.ignition.spark_advance): region(c, log.engine_speed > 500 rpm)",
     "a condition on the fields of these cells is expected here, not a series of conditions"},
    {"region(cells(tune.ignition.spark_advance), log.fan_output)",
     "the name of a collection of cells(...) or visits(...) is expected here, not a collection"},
    {"let p = points(tune.fuel.warm_up_enrichment): region(p, p.x > 1 degC)",
     "the name of a collection of cells(...) or visits(...) is expected here, not a collection"},
};

static void what_is_refused(void **state)
{
  struct bench bench = bench_new(state, (struct given){0});
  size_t count = sizeof refused / sizeof *refused;
  for (size_t i = 0; i < count; i++) {
    if (bench_compile(&bench, refused[i][0], NULL) || bench.problems.count != 1)
      fail_msg("%s gives %zu problems", refused[i][0], bench.problems.count);
    if (strcmp(bench.problems.items[0].message, refused[i][1]) != 0)
      fail_msg("%s\n    is told %s\n   not %s", refused[i][0], bench.problems.items[0].message, refused[i][1]);
  }
  assert_true(count > 0);
  bench_free(&bench);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(times_are_those_of_numpy),
      cmocka_unit_test(means_are_those_of_numpy),
      cmocka_unit_test(no_time_is_lost),
      cmocka_unit_test(how_it_was_logged_does_not_show),
      cmocka_unit_test(edges_hold),
      cmocka_unit_test(what_does_not_count),
      cmocka_unit_test(longer_than_can_be_counted),
      cmocka_unit_test(all_items_at_once),
      cmocka_unit_test(the_largest_region),
      cmocka_unit_test(what_is_refused),
  };
  return cmocka_run_group_tests_name("expr/visit, items", tests, dictionary_open, dictionary_close);
}
