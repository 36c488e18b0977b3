/* Cases that are written as changes of another case. What must come out is workshop rule: common practice, no source.
 */
#include "reading.h"

#include "cli/prove_like.h"
#include "text/yaml.h"

struct bench {
  struct run run;
  const struct node *list;
  struct node written[8];
  size_t good; /* so many could be written out, from the first on */
};

static struct bench bench_of(const char *cases)
{
  struct bench bench = {.run = run_new()};
  bench.list = yaml_read(bench.run.arena, run_source(&bench.run, slice_of(cases)), &bench.run.problems);
  assert_non_null(bench.list);
  assert_true(bench.list->count <= sizeof bench.written / sizeof *bench.written);
  for (size_t i = 0; i < bench.list->count; i++) {
    if (!case_written_out(bench.run.arena, &bench.list->items[i], bench.written, i, &bench.written[i],
                          &bench.run.problems))
      break;
    bench.good++;
  }
  return bench;
}

static const char *flow(struct arena *arena, const struct node *node)
{
  if (node->kind == NODE_SCALAR)
    return arena_text(arena, node->text);
  const char *text = node->kind == NODE_MAP ? "{" : "[";
  for (size_t i = 0; i < node->count; i++) {
    const char *comma = i > 0 ? ", " : "";
    if (node->kind == NODE_MAP)
      text = arena_print(arena, "%s%s%.*s: %s", text, comma, SLICE_ARG(node->pairs[i].key.text),
                         flow(arena, &node->pairs[i].value));
    else
      text = arena_print(arena, "%s%s%s", text, comma, flow(arena, &node->items[i]));
  }
  return arena_print(arena, "%s%s", text, node->kind == NODE_MAP ? "}" : "]");
}

/* The second of two cases, written out. */
static void assert_second(const char *cases, const char *expected)
{
  struct bench bench = bench_of(cases);
  if (bench.good != 2)
    fail_msg("refused: %s", run_said(&bench.run));
  assert_string_equal(flow(bench.run.arena, &bench.written[1]), expected);
  assert_string_equal(flow(bench.run.arena, &bench.written[0]), flow(bench.run.arena, &bench.list->items[0]));
  run_free(&bench.run);
}

static void settings_are_put_over_whole(void **state)
{
  (void)state;
  assert_second("- {name: a, expect: flag, measure: 1 V, tune: {b.curve: {x: [1, 2], value: [3, 4]}, c: 5}}\n"
                "- {name: z, like: a, expect: clear, tune: {b.curve: {value: 6}, d: 7}}\n",
                "{tune: {b.curve: {value: 6}, c: 5, d: 7}, name: z, expect: clear}");
}

static void what_it_does_not_say_stays(void **state)
{
  (void)state;
  assert_second(
      "- {name: a, expect: flag, stage: dyno, before: {c: 1}, job: {facts: {f: 2}}, log: \"time\\n0\\n\"}\n"
      "- {name: z, like: a, expect: flag, stage: look, places: 2}\n",
      "{stage: look, before: {c: 1}, job: {facts: {f: 2}}, log: time\n0\n, name: z, expect: flag, places: 2}");
}

static void a_channel_may_use_what_it_was(void **state)
{
  (void)state;
  assert_second("- {name: a, expect: flag, log: {for: 2 s, rate: 1 Hz, channels: {u: 1, v: log.u, w: 3}}}\n"
                "- {name: z, like: a, expect: flag, log: {for: 9 s, channels: {v: log.v + 2, x: 4}}}\n",
                "{log: {for: 9 s, rate: 1 Hz, channels: {u: 1, v: log.u, v: log.v + 2, w: 3, x: 4}}, name: z, "
                "expect: flag}");
}

static void changes_follow_one_another(void **state)
{
  (void)state;
  struct bench bench = bench_of("- {name: a, expect: flag, log: {channels: {v: 1, w: 2}}}\n"
                                "- {name: b, like: a, expect: flag, log: {channels: {v: log.v + 1}}}\n"
                                "- {name: c, like: b, expect: flag, log: {channels: {v: log.v + 2}}}\n");
  assert_int_equal(bench.good, 3);
  assert_string_equal(flow(bench.run.arena, &bench.written[2]),
                      "{log: {channels: {v: 1, v: log.v + 1, v: log.v + 2, w: 2}}, name: c, expect: flag}");
  run_free(&bench.run);
}

static void inputs_are_left_out(void **state)
{
  (void)state;
  assert_second("- {name: a, expect: flag, tune: {x: 1, y: 2}, before: {x: 1}, log: {channels: {u: 1, v: 2}},"
                " job: {facts: {f: 1}, readings: {r: [1]}, limits: {l: 2}}}\n"
                "- {name: z, like: a, expect: flag, without: [tune.x, before, log.u, job.r, limit.l]}\n",
                "{tune: {y: 2}, log: {channels: {v: 2}}, job: {facts: {f: 1}, readings: {}, limits: {}}, name: z, "
                "expect: flag}");
}

static void slips_are_told(void **state)
{
  (void)state;
  static const struct wrong wrongs[] = {
      {"- {name: a, expect: flag}\n- {name: z, like: b}\n", "2:19 'b' no case before this one is called 'b' | -"},
      {"- {name: z, like: z}\n", "1:19 'z' no case before this one is called 'z' | -"},
      {"- {name: a, tune: {x: 1}}\n- {name: z, like: a, without: [tune.y]}\n",
       "2:32 'tune.y' the case that it is like has no 'tune.y' to leave out | -"},
      {"- {name: a, tune: {x: 1}}\n- {name: z, like: a, without: [log.x]}\n",
       "2:32 'log.x' the case that it is like has no 'log.x' to leave out | -"},
      {"- {name: a, log: text}\n- {name: z, like: a, without: [log.x]}\n",
       "2:32 'log.x' the case that it is like has no 'log.x' to leave out | -"},
      {"- {name: a, tune: {x: 1}}\n- {name: z, like: a, without: tune.x}\n",
       "2:31 'tune.x' a list of names is expected here | -"},
      {"- {name: z, without: [tune.x]}\n", "1:23 'tune.x' 'without' leaves out of the case that 'like' names | -"}};
  for (size_t i = 0; i < sizeof wrongs / sizeof *wrongs; i++) {
    struct bench bench = bench_of(wrongs[i].bytes);
    assert_true(bench.good < bench.list->count);
    assert_string_equal(run_said(&bench.run), wrongs[i].said);
    run_free(&bench.run);
  }
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(settings_are_put_over_whole),   cmocka_unit_test(what_it_does_not_say_stays),
      cmocka_unit_test(a_channel_may_use_what_it_was), cmocka_unit_test(changes_follow_one_another),
      cmocka_unit_test(inputs_are_left_out),           cmocka_unit_test(slips_are_told)};
  return cmocka_run_group_tests_name("cli/prove_like", tests, NULL, NULL);
}
