/* Extremes over a window, row by row as the manual defines them: the window is looked through anew for every row here,
 * in whole hundredths of a second, and what comes out stands in the log beside what goes in. Logs of thousands of rows,
 * with gaps, clocks set back, equal times and missing cells. */
#include "expr_help.h"

enum { ROWS = 3000 };

struct sample {
  int time; /* 0.01 s */
  int value;
  bool known;
};

struct window {
  const char *function;
  bool largest, ahead;
};

static const struct window windows[] = {
    {"past_min", false, false}, {"past_max", true, false}, {"next_min", false, true}, {"next_max", true, true}};
static const int lengths[] = {0, 1, 3, 4, 5, 16, 17, 64, 150, 400, 1300}; /* 0.01 s */

static uint64_t next_random(uint64_t *state)
{
  *state = *state * 6364136223846793005u + 1442695040888963407u;
  return *state >> 33;
}

/* `most`: the values are under it; `missing`: one cell in so many, 0: none. */
static void make_samples(struct sample *samples, uint64_t seed, int most, unsigned missing)
{
  int time = 0, value = 0;
  for (size_t i = 0; i < ROWS; i++) {
    uint64_t chance = next_random(&seed) % 1000;
    time += chance == 0 ? 700 : chance < 20 ? 0 : chance < 30 ? 3 : 1;
    if (chance == 999)
      time -= 2000;
    if (most > 2 || next_random(&seed) % 60 == 0) /* conditions stay for a while */
      value = (int)(next_random(&seed) % (unsigned)most);
    samples[i] = (struct sample){time, value, missing == 0 || next_random(&seed) % missing != 0};
  }
}

/* A gap is longer than a second; rows hang together as far as the next one. */
static bool is_break(const struct sample *samples, size_t i)
{
  int step = samples[i].time - samples[i - 1].time;
  return step < 0 || step > 100;
}

static struct sample look_through(const struct sample *samples, size_t i, const struct window *window, int length)
{
  struct sample out = {samples[i].time, 0, false};
  for (size_t k = i;; k += window->ahead ? 1 : (size_t)-1) {
    if (abs(samples[k].time - samples[i].time) > length)
      break;
    bool more = !out.known || (window->largest ? samples[k].value > out.value : samples[k].value < out.value);
    if (samples[k].known && more)
      out = (struct sample){0, samples[k].value, true};
    size_t edge = window->ahead ? k + 1 : k;
    if (edge == 0 || edge == ROWS || is_break(samples, edge))
      break;
  }
  return out;
}

static char *make_log(struct arena *arena, const char *columns, const struct sample *samples,
                      const struct window *window, int length)
{
  size_t room = ROWS * 40, used = 0;
  char *log = arena_alloc(arena, room);
  used += (size_t)snprintf(log, room, "time (s),%s\n", columns);
  for (size_t i = 0; i < ROWS; i++) {
    struct sample out = look_through(samples, i, window, length);
    int time = samples[i].time + 10000;
    used += (size_t)snprintf(log + used, room - used, "%d.%02d,", time / 100, time % 100);
    if (samples[i].known)
      used += (size_t)snprintf(log + used, room - used, "%d", samples[i].value);
    used += (size_t)snprintf(log + used, room - used, ",");
    if (out.known)
      used += (size_t)snprintf(log + used, room - used, "%d", out.value);
    used += (size_t)snprintf(log + used, room - used, "\n");
  }
  return log;
}

static void check(void **state, const char *columns, const char *from, const char *wanted, int most, unsigned missing)
{
  struct sample samples[ROWS];
  size_t checked = 0;
  for (size_t w = 0; w < sizeof windows / sizeof *windows; w++) {
    for (size_t l = 0; l < sizeof lengths / sizeof *lengths; l++) {
      struct arena *arena = arena_new();
      make_samples(samples, 11 * w + l, most, missing);
      struct bench bench =
          bench_new(state, (struct given){.log = make_log(arena, columns, samples, &windows[w], lengths[l])});
      const char *call =
          arena_print(arena, "%s(log.%s, %d.%02d s)", windows[w].function, from, lengths[l] / 100, lengths[l] % 100);
      expect_shown(&bench, arena_print(arena, "count(known(%s) == known(log.%s))", call, wanted),
                   arena_print(arena, "%d", ROWS));
      expect_shown(&bench, arena_print(arena, "all(%s == log.%s)", call, wanted), "yes");
      checked++;
      bench_free(&bench);
      arena_free(arena);
    }
  }
  assert_int_equal(checked, 44);
}

static void numbers(void **state)
{
  check(state, "engine_speed (rpm),idle_speed_target (rpm)", "engine_speed", "idle_speed_target", 5000, 0);
}
static void numbers_that_are_missing(void **state)
{
  check(state, "engine_speed (rpm),idle_speed_target (rpm)", "engine_speed", "idle_speed_target", 5000, 3);
}
static void conditions(void **state)
{
  check(state, "fan_output,clutch_switch", "fan_output", "clutch_switch", 2, 0);
}
static void conditions_that_are_missing(void **state)
{
  check(state, "fan_output,clutch_switch", "fan_output", "clutch_switch", 2, 3);
}

int main(void)
{
  const struct CMUnitTest tests[] = {cmocka_unit_test(numbers), cmocka_unit_test(numbers_that_are_missing),
                                     cmocka_unit_test(conditions), cmocka_unit_test(conditions_that_are_missing)};
  return cmocka_run_group_tests_name("expr/windows", tests, dictionary_open, dictionary_close);
}
