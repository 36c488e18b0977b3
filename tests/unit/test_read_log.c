/* The liberties that loggers take, one by one. What RFC 4180 does not say is common practice of loggers, no source,
 * unless a comment names one. */
#include "test_read_log_help.h"

static void test_plain(void **state)
{
  struct given g = give(state, "time,engine_speed,coolant_temperature\n0,800,20\n0.04,810,20.5\n0.08,820,21\n");
  EXPECT(&g, "time", "s", 0, 0.04, 0.08);
  EXPECT(&g, "engine_speed", "rpm", 800, 810, 820);
  EXPECT(&g, "coolant_temperature", "degC", 20, 20.5, 21);
  assert_int_equal(g.log->row_count, 3);
  assert_int_equal(g.log->column_count, 3);
  assert_int_equal(g.log->decoded_count, 3);
  assert_null(channel(&g, "engine_speed")->known);
  assert_int_equal(g.log->note_count, 1);
  expect_note(&g, LOG_NOTE_RATE, 1, 1, "3 rows at 25 Hz (median), 0.08 s");
  /* Kelvin: 20 degC is 293.15 K by definition of the degree Celsius (BIPM, SI brochure, 2.3.1). */
  assert_true(channel(&g, "coolant_temperature")->at[0] == 293.15);
  assert_true(stands_at(&g, g.log->values[channel_index(&g, "engine_speed")]->place, 1, 6));
  for (size_t i = 0; i < 3; i++)
    assert_true(stands_at(&g, log_row_place(g.log, i), i + 2, 1));
  assert_int_equal(g.log->parts[0].end, g.source->bytes.size);
  given_free(&g);
}

/* The same three rows in many hands. */
static const char *const dialects[] = {
    "time,RPM,coolant\n0,800,20.5\n1,,21\n2,820,-4\n",
    "time;RPM;coolant\n0;800;20.5\n1;;21\n2;820;-4\n",
    "time\tRPM\tcoolant\n0\t800\t20.5\n1\t\t21\n2\t820\t-4\n",
    "time;RPM;coolant\n0;800;20,5\n1;;21\n2;820;-4\n",
    "time\tRPM\tcoolant\n0\t800\t20,5\n1\t\t21\n2\t820\t-4\n",
    "time,RPM,coolant\r\n0,800,20.5\r\n1,,21\r\n2,820,-4\r\n",
    "time,RPM,coolant\r0,800,20.5\r1,,21\r2,820,-4\r",
    "\xEF\xBB\xBFtime,RPM,coolant\n0,800,20.5\n1,,21\n2,820,-4",
    "time , RPM ,coolant\n 0,  800 ,20.5\n1,\t,21\n2,820, -4 \n",
    "\"time\",\"RPM\",\"coolant\"\n\"0\",\"800\",\"20.5\"\n\"1\",\"\",\"21\"\n\"2\",\"820\",\"-4\"\n",
    "time,RPM,coolant,\n0,800,20.5,\n1,,21,\n2,820,-4,\n",
    "time,RPM,coolant\n0,800,20.5,,,\n1,,21,,,\n2,820,-4,,,\n",
    "time,RPM,coolant,,\n0,800,20.5\n1,,21\n2,820,-4\n",
    "Time (s),RPM (rpm),Coolant (degC)\n0,800,20.5\n1,-,21\n2,820,-4\n",
    "TIME [s],Engine Speed [1/min],Coolant_Temp [\302\260C]\n0,800,20.5\n1,n/a,21\n2,820,-4\n",
    "time_s,RPM rpm,coolant degC\n0,800,20.5\n1,N/A,21\n2,820,-4\n",
    "time (),RPM (),coolant (),\n0, 800, 20.5,\n1, , 21,\n2, 820, -4,\n", /* as from a diagnostics port */
    "time,RPM,coolant\ns,rpm,degC\n0,800,20.5\n1,NaN,21\n2,820,-4\n",
    "time,RPM,coolant\n(s),(rpm),(degC)\n0,800,20.5\n1,null,21\n2,820,-4\n",
    "time;RPM;coolant\n\n[s];[];\n0;800;20.5\n1;--;21\n2;820;-4\n",
    "time [ms],RPM,coolant\n0,800,20.5\n1000,?,21\n2000,820,-4\n",
    "timestamp (us),RPM,coolant\n5000000,800,20.5\n6000000,#N/A,21\n7000000,820,-4\n",
    "elapsed time,RPM,coolant\n12:30:00.000,800,20.5\n12:30:01.000,none,21\n12:30:02.000,820,-4\n",
    "Elapsed-Time (HH:MM:SS.mmm),RPM,coolant\n0:00:00,800,20.5\n0:00:01,,21\n0:00:02,820,-4\n",
    "time,RPM,coolant\nhh:mm:ss,rpm,C\n0:00:00,800,20.5\n0:00:01,,21\n0:00:02,820,-4\n",
    "time;RPM;coolant\n59:59,5;800;20,5\n60:00,5;;21\n60:01,5;820;-4\n",
    "timestamp,RPM,coolant\n2024-02-28T23:59:59Z,800,20.5\n2024-02-29T00:00:00Z,,21\n2024-02-29 00:00:01,820,-4\n",
    "time,RPM,coolant\n23:59:58,800,20.5\n23:59:59,,21\n00:00:00,820,-4\n", /* over midnight */
    "# a remark, with, commas\n// another; one\n; a third\nA log\ntime,RPM,coolant\n0,800,20.5\n1,,21\n2,820,-4\n",
    "sep=;\nLogger,firmware 3.1\n\"Date\",2024-05-01\n\ntime;RPM;coolant\n0;800;20,5\n1;;21\n2;820;-4\n",
    "Time,12:30\nDriver,somebody\ntime,RPM,coolant\n0,800,20.5\n1,,21\n2,820,-4\n",
    "5\" pipe \"A\"\ntime,RPM,coolant\n0,800,20.5\n1,,21\n2,820,-4\n",
    "\"Title\" by hand\ntime,RPM,coolant\n0,800,20.5\n1,,21\n2,820,-4\n",
    "time,RPM,coolant\n0,800,20.5\n\n1,,21\n,,\n\n2,820,-4\n\n\n",
    "time,RPM,coolant\n0,800,20.5\nMARK 1\n1,,21\n2,820,-4\n",
    "time,RPM,coolant\n0,800,20.5\nMARK 1,,\n1,,21\n# half time\n2,820,-4\nMARK 2",
    "time,RPM,coolant\n0,800,20.5\n1,,21\ntime,RPM,coolant\n2,820,-4\n",
    "time,RPM,coolant\ns,rpm,C\n0,800,20.5\n1,,21\ntime,RPM,coolant\ns,rpm,C\n2,820,-4\n",
    "time,RPM,coolant\n0,800,20.5\n1,,21\n2,820,-4\n3,8",
    "time,RPM,coolant\n0,800,20.5\n1,,21\n2,820,-4\n3,830,\"1",
    "time,coolant,RPM\n0,20.5,800\n1,21\n2,-4,820\n",
    "time,RPM,coolant\n+0,8e2,+20.5\n1.,,2.1E+1\n2,820.,-.4e1\n",
    "time,RPM,coolant\n0,800,20.5\n1,,21\n2,820,-4\n\x1A",
    "time,\"engine\nspeed\",\"coolant (\302\260C)\"\n0,800,20.5\n1,\"\",21\n2,820,-4\n",
    "time,RPM,\"Coolant (\260C)\"\n0,800,20.5\n1,,21\n2,820,-4\n", /* the degree sign of ISO 8859-1 */
    "EngineSpeed,TIME,Engine_Coolant.Temperature\n800,0,20.5\n,1,21\n820,2,-4\n",
};

static void test_dialects(void **state)
{
  size_t ran = 0;
  for (size_t i = 0; i < sizeof dialects / sizeof *dialects; i++) {
    struct given g = give(state, dialects[i]);
    if (g.log == NULL)
      print_error("dialect %zu: %s\n", i, dialects[i]);
    const struct series *time = channel(&g, "time");
    EXPECT(&g, "engine_speed", "rpm", 800, NAN, 820);
    EXPECT(&g, "coolant_temperature", "degC", 20.5, 21, -4);
    for (size_t row = 0; row < 3; row++)
      assert_true(fabs(time->at[row] - (double)row) < 1e-9);
    given_free(&g);
    ran++;
  }
  assert_true(ran >= 40);
}

static void test_units(void **state)
{
  struct given g =
      give(state, "time,MAP [psi],ECT (degF),speed mph,VSS [mph],gear\n0,14.5,212,1,60,3\n1,-1.5,32,1,0,0\n");
  EXPECT(&g, "manifold_pressure", "psi", 14.5, -1.5);
  EXPECT(&g, "coolant_temperature", "degF", 212, 32);
  EXPECT(&g, "vehicle_speed", "mph", 60, 0);
  EXPECT(&g, "gear", "1", 3, 0);
  /* NIST SP 811, appendix B: 0 degC is 32 degF, 100 degC is 212 degF; 1 mi/h is 0.44704 m/s. */
  assert_true(fabs(channel(&g, "coolant_temperature")->at[0] - 373.15) < 1e-9);
  assert_true(fabs(channel(&g, "coolant_temperature")->at[1] - 273.15) < 1e-9);
  assert_true(fabs(channel(&g, "vehicle_speed")->at[0] - 60 * 0.44704) < 1e-12);
  expect_note(&g, LOG_NOTE_UNKNOWN_COLUMN, 1, 27, "'speed mph'");
  given_free(&g);
}

/* A unit of the heading stands before one of the row below; a column without any has the dictionary's. */
static void test_unit_row_fills_in(void **state)
{
  struct given g = give(state, "time,MAP [psi],ECT,IAT\ns,,degF,-\n0,1,2,3\n");
  EXPECT(&g, "manifold_pressure", "psi", 1);
  EXPECT(&g, "coolant_temperature", "degF", 2);
  EXPECT(&g, "intake_air_temperature", "degC", 3);
  given_free(&g);
  /* Words below the heading that are no units are a row. */
  struct given h = give(state, "time,clutch,brake\n0:00:01,on,off\n0:00:02,on,on\n");
  EXPECT(&h, "clutch_switch", "1", 1, 1);
  EXPECT(&h, "brake_switch", "1", 0, 1);
  given_free(&h);
}

static void test_switches(void **state)
{
  struct given g = give(state, "time,clutch,brake,A/C request,fan,fuel cut\n0,0,on,TRUE,yes,Active\n"
                               "1,1,Off,false,NO,inactive\n2,1.0,ON,,-,0.00\n");
  EXPECT(&g, "clutch_switch", "1", 0, 1, 1);
  EXPECT(&g, "brake_switch", "1", 1, 0, 1);
  EXPECT(&g, "air_conditioning_request", "1", 1, 0, NAN);
  EXPECT(&g, "fan_output", "1", 1, 0, NAN);
  EXPECT(&g, "fuel_cut", "1", 1, 0, 0);
  given_free(&g);
  struct given h = give(state, "time,clutch\n0,0\n1,2\n2,maybe\n3,1\n4,0\n5,1\n");
  EXPECT(&h, "clutch_switch", "1", 0, NAN, NAN, 1, 0, 1);
  expect_note(&h, LOG_NOTE_BAD_CELLS, 3, 3, "'clutch_switch': 2 of 6 cells neither on nor off");
  given_free(&h);
}

static void test_rate(void **state)
{
  struct given g = give_rate(state, "RPM,coolant\n800,1\n,\n810,2\n", 25);
  EXPECT(&g, "time", "s", 0, 0.04, 0.08);
  EXPECT(&g, "engine_speed", "rpm", 800, NAN, 810);
  assert_true(g.log->present[channel_index(&g, "time")]);
  assert_int_equal(g.log->decoded_count, 2);
  expect_note(&g, LOG_NOTE_RATE, 1, 1, "3 rows at 25 Hz (as given), 0.08 s");
  given_free(&g);
  /* A time column is worth more than a rate. */
  struct given h = give_rate(state, "time,RPM\n1,2\n2,2\n", 25);
  EXPECT(&h, "time", "s", 0, 1);
  given_free(&h);
}

static void test_long_rate_note(void **state)
{
  char *text = malloc(18000 * 16 + 32), *at = text;
  assert_non_null(text);
  at += sprintf(at, "time [ms],rpm\n");
  for (int i = 0; i < 18000; i++)
    at += sprintf(at, "%d,800\n", i * 40);
  struct given g = give(state, text);
  /* 17 999 steps of 40 ms. */
  expect_note(&g, LOG_NOTE_RATE, 1, 1, "18 000 rows at 25 Hz (median), 12 min");
  assert_int_equal(g.log->note_count, 1);
  given_free(&g);
  free(text);
}

static void test_wanted(void **state)
{
  const struct shared *shared = *state;
  const struct vocabulary *v = shared->vocabulary;
  bool *wanted = calloc(v->count[SCOPE_LOG], sizeof *wanted);
  assert_non_null(wanted);
  const struct entry *coolant = vocabulary_find(v, SCOPE_LOG, slice_of("coolant_temperature"));
  wanted[vocabulary_index(v, SCOPE_LOG, coolant)] = true;
  struct given g = give_with(state, slice_of("rpm,foo,coolant,time,iat\nx,2,3,4,5\ny,,4,5,6\n"),
                             &(struct log_options){.wanted = wanted});
  EXPECT(&g, "coolant_temperature", "degC", 3, 4);
  EXPECT(&g, "time", "s", 0, 1);
  assert_null(g.log->values[channel_index(&g, "engine_speed")]);
  assert_true(g.log->present[channel_index(&g, "engine_speed")]);
  assert_true(g.log->present[channel_index(&g, "intake_air_temperature")]);
  assert_false(g.log->present[channel_index(&g, "gear")]);
  assert_int_equal(g.log->column_count, 5);
  assert_int_equal(g.log->decoded_count, 2);
  given_free(&g);
  free(wanted);
}

static void test_unknown_columns(void **state)
{
  struct given g = give(state, "time,colant,boost controller,rpm,,\"a \"\"b\"\"\",\xE9t\xE9\n0,1,2,3,,5,6\n");
  expect_note(&g, LOG_NOTE_UNKNOWN_COLUMN, 1, 6,
              "'colant' is no channel that is known; the nearest is "
              "'coolant_temperature'");
  expect_note(&g, LOG_NOTE_UNKNOWN_COLUMN, 1, 13, "'boost controller' is no channel that is known");
  expect_note(&g, LOG_NOTE_UNKNOWN_COLUMN, 1, 36, "'a \"b\"'");
  expect_note(&g, LOG_NOTE_UNKNOWN_COLUMN, 1, 45, "'?t?'");
  assert_int_equal(note_count(&g, LOG_NOTE_UNKNOWN_COLUMN), 4);
  given_free(&g);
}

static void test_markers(void **state)
{
  struct given g = give(state, "time,rpm,gear\n0,1,2\nMARK 1\n1,1,2\n# pit stop\nlap 2,,\n2,1,2\n-\n3\n");
  EXPECT(&g, "time", "s", 0, 1, 2, NAN, 3);
  EXPECT(&g, "engine_speed", "rpm", 1, 1, 1, NAN, NAN);
  assert_int_equal(note_count(&g, LOG_NOTE_MARKER), 3);
  expect_note(&g, LOG_NOTE_MARKER, 3, 1, "'MARK 1'");
  expect_note(&g, LOG_NOTE_MARKER, 5, 1, "'# pit stop'");
  expect_note(&g, LOG_NOTE_MARKER, 6, 1, "'lap 2,,'");
  given_free(&g);
  char *text = malloc(5000 * 4 + 64), *at = text;
  assert_non_null(text);
  at += sprintf(at, "time,rpm\n0,1\n");
  for (int i = 0; i < 5000; i++)
    at += sprintf(at, "M\n");
  struct given h = give(state, text);
  assert_true(note_count(&h, LOG_NOTE_MARKER) < 200);
  expect_note(&h, LOG_NOTE_MARKER, 5003, 1, "4 900 more");
  given_free(&h);
  free(text);
}

static void test_bad_cells(void **state)
{
  struct given g = give(state, "time,rpm,coolant\n0,800,20\n1,fault,1,\n2,0x10,20\n3,1 000,inf\n4,1e400,20\n5,1,1\n"
                               "6,1,1\n7,1,1\n8,1,1\n");
  EXPECT(&g, "engine_speed", "rpm", 800, NAN, NAN, NAN, NAN, 1, 1, 1, 1);
  expect_note(&g, LOG_NOTE_BAD_CELLS, 3, 3,
              "'engine_speed': 4 of 9 cells not a number, taken as missing; the first "
              "is 'fault'");
  expect_note(&g, LOG_NOTE_BAD_CELLS, 5, 9, "'coolant_temperature': 1 of 9");
  given_free(&g);
  /* One file has one decimal sign: thousands written with the other are not read as something else. */
  struct given h = give(state, "time;rpm;MAP\n0;1.234,5;99,5\n1;1.234;99,5\n2;800;98\n3;800;98\n");
  EXPECT(&h, "engine_speed", "rpm", NAN, NAN, 800, 800);
  EXPECT(&h, "manifold_pressure", "kPa", 99.5, 99.5, 98, 98);
  given_free(&h);
}

/* The decimal sign shows itself late. */
static void test_late_point(void **state)
{
  char *text = malloc(300 * 16 + 64), *at = text;
  assert_non_null(text);
  at += sprintf(at, "time;rpm\n");
  for (int i = 0; i < 300; i++)
    at += sprintf(at, i < 250 ? "%d;800\n" : "%d;800,5\n", i);
  struct given g = give(state, text);
  assert_null(channel(&g, "engine_speed")->known);
  assert_true(fabs(unit_from_base(channel(&g, "engine_speed")->unit, channel(&g, "engine_speed")->at[299]) - 800.5) <
              1e-9);
  given_free(&g);
  free(text);
}

static void test_row_widths(void **state)
{
  struct given g = give(state, "time,rpm,gear\n0,1,2\n1,1\n2\n3,1,2\n");
  EXPECT(&g, "engine_speed", "rpm", 1, 1, NAN, 1);
  EXPECT(&g, "gear", "1", 2, NAN, NAN, 2);
  expect_note(&g, LOG_NOTE_BAD_CELLS, 3, 1, "2 of 4 rows have fewer cells");
  given_free(&g);
  char *text = malloc(200 * 16 + 64), *at = text;
  assert_non_null(text);
  at += sprintf(at, "time,rpm\n");
  for (int i = 0; i < 200; i++)
    at += sprintf(at, i == 120 ? "%d,800, ,x\n" : "%d,800\n", i);
  struct given h = give(state, text);
  assert_int_equal(h.log->row_count, 200);
  expect_note(&h, LOG_NOTE_BAD_CELLS, 122, 11, "1 of 200 rows have more cells");
  given_free(&h);
  free(text);
}

static void test_truncated(void **state)
{
  struct given g = give(state, "time,rpm,gear\n0,1,2\n1,1,2\n2,1");
  EXPECT(&g, "time", "s", 0, 1);
  expect_note(&g, LOG_NOTE_TRUNCATED, 4, 1, "cut off");
  given_free(&g);
  struct given h = give(state, "time,rpm,gear\n0,1,2\n1,1,2\n2,1,2");
  EXPECT(&h, "time", "s", 0, 1, 2);
  assert_int_equal(note_count(&h, LOG_NOTE_TRUNCATED), 0);
  given_free(&h);
  /* All rows are that short: the last one is not cut off. */
  struct given k = give(state, "time,rpm,gear\n0,1\n1,1\n2,1");
  EXPECT(&k, "time", "s", 0, 1, 2);
  assert_int_equal(note_count(&k, LOG_NOTE_TRUNCATED), 0);
  given_free(&k);
  struct given q = give(state, "time,rpm\n0,1\n1,\"2");
  EXPECT(&q, "time", "s", 0);
  expect_note(&q, LOG_NOTE_TRUNCATED, 3, 1, "cut off");
  given_free(&q);
}

static void test_diagnostics_port(void **state)
{
  struct given g = give_rate(state,
                             "ENGINE_RUN_TINE (),ENGINE_RPM (),VEHICLE_SPEED (),THROTTLE (),COOLANT_TEMPERATURE ()\r\n"
                             "0.000000, 0.000000, 0.000000, 17.647058, 81.000000,\r\n"
                             "1.000000, 728.750000, 0.000000, 16.078432, 81.000000,\r\n",
                             1);
  EXPECT(&g, "vehicle_speed", "km/h", 0, 0);
  EXPECT(&g, "throttle_position", "%", 17.647058, 16.078432);
  EXPECT(&g, "coolant_temperature", "degC", 81, 81);
  EXPECT(&g, "engine_speed", "rpm", 0, 728.75);
  assert_int_equal(note_count(&g, LOG_NOTE_UNKNOWN_COLUMN), 1);
  assert_int_equal(note_count(&g, LOG_NOTE_BAD_CELLS), 0);
  given_free(&g);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_plain),
      cmocka_unit_test(test_dialects),
      cmocka_unit_test(test_units),
      cmocka_unit_test(test_unit_row_fills_in),
      cmocka_unit_test(test_switches),
      cmocka_unit_test(test_rate),
      cmocka_unit_test(test_long_rate_note),
      cmocka_unit_test(test_wanted),
      cmocka_unit_test(test_unknown_columns),
      cmocka_unit_test(test_markers),
      cmocka_unit_test(test_bad_cells),
      cmocka_unit_test(test_late_point),
      cmocka_unit_test(test_row_widths),
      cmocka_unit_test(test_truncated),
      cmocka_unit_test(test_diagnostics_port),
  };
  return cmocka_run_group_tests_name("read_log", tests, shared_open, shared_close);
}
