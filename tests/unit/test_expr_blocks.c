/* Blocks and threads must not show: each function over a log of 900 rows with gaps, clocks set back, equal times and
 * missing cells gives the same bits for blocks of 1, 2, 3, 7, 64 and 500 rows, on one, two and three threads, and at
 * once. The authority is the computation at once, which the other tests of expr/ check against outside sources. */
#include "expr_help.h"

static uint64_t next_random(uint64_t *state)
{
  *state = *state * 6364136223846793005u + 1442695040888963407u;
  return *state >> 33;
}

static const char *awkward_log(struct arena *arena)
{
  const size_t rows = 900, room = rows * 120;
  char *log = arena_alloc(arena, room);
  size_t used =
      (size_t)snprintf(log, room, "time (s),engine_speed (rpm),gear,fan_output,lambda,throttle_position (%%)\n");
  uint64_t random = 20251125;
  double time = 0;
  for (size_t i = 0; i < rows; i++) {
    uint64_t chance = next_random(&random) % 100;
    time += chance == 0 ? 5 : chance < 4 ? 0 : chance < 6 ? 1.5 : 0.1;
    if (chance == 99)
      time -= 20;
    used += (size_t)snprintf(log + used, room - used, "%.2f,", time);
    if (next_random(&random) % 20 != 0)
      used += (size_t)snprintf(log + used, room - used, "%d", 800 + (int)(next_random(&random) % 4000));
    used += (size_t)snprintf(log + used, room - used, ",%d,", (int)(next_random(&random) % 6));
    if (next_random(&random) % 10 != 0)
      used += (size_t)snprintf(log + used, room - used, "%d", next_random(&random) % 8 < 5);
    used +=
        (size_t)snprintf(log + used, room - used, ",%d.%03d,%d\n", (int)(next_random(&random) % 2),
                         (int)(next_random(&random) % 1000), i / 200 % 2 == 0 ? 0 : (int)(next_random(&random) % 100));
  }
  return log;
}

static const char table[] = "boost.target: {x: {unit: rpm, at: [1000, 2500, 4000]}, y: {unit: '%', at: [0, 30, 80]}, "
                            "value: {unit: kPa, rows: [[100, 110, 120], [130, 140, 150], [160, 170, 180]]}}\n";

static const char *const expressions[] = {
    "mean(log.engine_speed)",
    "sd(log.engine_speed / (log.gear - 2))",
    "median(log.engine_speed)",
    "median(log.engine_speed / (log.gear - 2))",
    "percentile(log.engine_speed, 37.5 %)",
    "first(log.engine_speed)",
    "last(where(log.engine_speed, log.gear == 5))",
    "range(smooth(log.engine_speed, 0.7 s))",
    "min(rate(log.engine_speed))",
    "max(delay(log.engine_speed, 0.35 s))",
    "mean(where(past_min(log.engine_speed, 1 s), log.fan_output))",
    "count(where(log.gear, log.fan_output and log.lambda > 0.5 lambda))",
    "count(past_max(log.fan_output, 0.5 s))",
    "any(log.engine_speed > 4799 rpm)",
    "all(log.engine_speed > 800 rpm)",
    "duration(log.fan_output)",
    "duration(next_min(log.fan_output, 0.3 s))",
    "share(log.fan_output or log.gear > 4)",
    "share(delay(log.fan_output, 0.25 s))",
    "slope(log.engine_speed, log.lambda)",
    "intercept(log.engine_speed, log.lambda)",
    "correlation(log.engine_speed, delay(log.engine_speed, 0.1 s))",
    "robust_slope(log.engine_speed, log.lambda)",
    "robust_intercept(where(log.engine_speed, log.throttle_position > 10 %), log.lambda)",
    "at(log.engine_speed, 2.04 s)",
    "at(log.lambda, 1.05 s)",
    "mean(where(log.engine_speed, log.engine_speed > median(log.engine_speed)))",
    "mean(until(log.gear == 5, 3 s))",
    "max(sin(log.gear * 37 deg))",
    "mean(exp(log.gear)) + mean(ln(log.gear)) + mean(power(log.gear, 1.5)) + mean(sqrt(log.gear))",
    "mean(if(log.fan_output, log.engine_speed, 1000 rpm) otherwise 2000 rpm)",
    "mean(max(log.engine_speed, delay(log.engine_speed, 1 s), 1500 rpm))",
    "count(known(log.engine_speed) and not log.fan_output)",
    "mean(where(log.engine_speed, either(log.fan_output, log.clutch_switch)))",
    "count(log.fan_output and log.clutch_switch)",
    "any(log.fan_output and log.clutch_switch)",
    "count(where(log.gear, log.throttle_position > 50 % and log.engine_speed / (log.gear + 0.1) > 4000 rpm))",
    "mean(noise(3))",
    "mean(ramp(10 s, 60 s, 0, 5))",
    "count(spans(log.fan_output, 0.2 s))",
    "each s in spans(log.fan_output, 0.4 s): s.start",
    "each s in spans(log.fan_output, 0 s): s.duration",
    "each s in spans(log.gear > 1, 0.5 s): mean(during(s, log.engine_speed))",
    "each s in spans(log.gear > 1, 0.5 s): max(during(s, next_max(log.engine_speed, 2 s)))",
    "each s in spans(log.throttle_position < 1 %, 5 s): mean(during(s, smooth(log.engine_speed, 1 s)))",
    "each s in spans(log.gear > 2, 0.3 s): count(where(log.gear, log.time < s.start))",
    "each v in visits(tune.boost.target, log.engine_speed, log.throttle_position): v.time",
    "each v in visits(tune.boost.target, where(log.engine_speed, log.fan_output), smooth(log.throttle_position, 0.5 "
    "s)): "
    "v.time",
    "let v = visits(tune.boost.target, log.engine_speed, log.throttle_position): sum(where(v.time, v.x > 1000 rpm))",
    "let v = visits(tune.boost.target, log.engine_speed, log.throttle_position): mean(where(log.engine_speed, "
    "log.engine_speed > sum(v.time * v.x) / sum(v.time)))",
    "each v in visits(tune.boost.target, log.engine_speed, log.throttle_position, log.lambda / (log.gear + 0.1)): "
    "v.mean",
    "let v = visits(tune.boost.target, log.engine_speed, log.throttle_position, log.lambda): sum(v.mean * v.time)",
    "let v = visits(tune.boost.target, log.engine_speed, log.throttle_position): mean(v.time) / duration(log.gear > 1)",
};

static const char *show(struct bench *bench, const char *text)
{
  struct result result;
  const char *shown = bench_show(bench, text);
  if (strncmp(text, "each ", 5) == 0)
    return shown;
  result = bench_eval(bench, text);
  return arena_print(bench->arena, "%s, %a, error %a", shown, result.number, result.error);
}

static void blocks_do_not_show(void **state)
{
  static const size_t blocks[] = {1, 2, 3, 7, 64, 500}, threads[] = {1, 2, 3};
  struct arena *arena = arena_new();
  struct bench bench = bench_new(state, (struct given){.settings = table, .log = awkward_log(arena)});
  size_t known = 0;
  for (size_t i = 0; i < sizeof expressions / sizeof *expressions; i++) {
    bench.inputs.block_rows = 1000;
    bench.inputs.threads = 1;
    const char *whole = show(&bench, expressions[i]);
    known += whole[0] != '?';
    for (size_t b = 0; b < sizeof blocks / sizeof *blocks; b++) {
      for (size_t t = 0; t < sizeof threads / sizeof *threads; t++) {
        bench.inputs.block_rows = blocks[b];
        bench.inputs.threads = threads[t];
        const char *parted = show(&bench, expressions[i]);
        if (strcmp(whole, parted) != 0)
          fail_msg("%s, blocks of %zu rows, %zu threads: %s, not %s", expressions[i], blocks[b], threads[t], parted,
                   whole);
      }
    }
  }
  assert_int_equal(known, sizeof expressions / sizeof *expressions - 2); /* what asks for the clutch is not known */
  bench_free(&bench);
  arena_free(arena);
}

/* Asked beforehand or one by one: the same. */
static void beforehand_is_the_same(void **state)
{
  struct arena *arena = arena_new();
  struct bench bench = bench_new(state, (struct given){.settings = table, .log = awkward_log(arena)});
  enum { COUNT = sizeof expressions / sizeof *expressions };
  const struct expr *exprs[COUNT];
  size_t count = 0;
  bench.inputs.block_rows = 50;
  bench.inputs.threads = 2;
  for (size_t i = 0; i < COUNT; i++) {
    if (strncmp(expressions[i], "each ", 5) != 0)
      exprs[count++] = bench_compile(&bench, expressions[i], NULL);
  }
  struct evaluation *prepared = bench_evaluation(&bench), *plain = bench_evaluation(&bench);
  evaluation_prepare(prepared, exprs, count);
  for (size_t i = 0; i < count; i++) {
    struct result a = evaluate(prepared, exprs[i]), b = evaluate(plain, exprs[i]);
    if (a.known != b.known || a.on != b.on)
      fail_msg("the %zu. expression comes out in another way", i);
    assert_memory_equal(&a.number, &b.number, sizeof a.number);
    assert_false(evaluation_is_quick(prepared, exprs[i]));
  }
  assert_true(count > 30);
  bench_free(&bench);
  arena_free(arena);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(blocks_do_not_show),
      cmocka_unit_test(beforehand_is_the_same),
  };
  return cmocka_run_group_tests_name("expr/frame, sweep", tests, dictionary_open, dictionary_close);
}
