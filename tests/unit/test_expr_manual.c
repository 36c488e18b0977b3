/* The manual's examples, run: every "> EXPRESSION" with its "= RESULT" in rules/LANGUAGE.md, on the inputs that the
 * manual itself gives under "Inputs of the examples". Also: every function and operator has an example. */
#include "expr_help.h"

#include "../tools/functions.h"
#include "expr/builtin.h"

struct manual {
  struct arena *arena;
  struct slice text;
};

static struct manual manual_open(struct sources *sources, struct arena *arena)
{
  struct problems problems;
  problems_init(&problems, arena, PROBLEM_OF_INPUT);
  const struct source *source = sources_open(sources, "rules/LANGUAGE.md", LIMIT_YAML_BYTES, &problems);
  assert_non_null(source);
  return (struct manual){arena, source->bytes};
}

/* The line at *at, without its end; false at the end of the text. */
static bool next_line(struct slice text, size_t *at, struct slice *line)
{
  if (*at >= text.size)
    return false;
  size_t end = *at;
  while (end < text.size && text.at[end] != '\n')
    end++;
  *line = slice_part(text, *at, end);
  *at = end + 1;
  return true;
}

static bool begins(struct slice line, const char *with)
{
  return line.size >= strlen(with) && memcmp(line.at, with, strlen(with)) == 0;
}

/* The indented block after the line that starts with `title`, without its indentation. */
static const char *block(const struct manual *manual, const char *title)
{
  struct slice line;
  size_t at = 0;
  bool found = false;
  const char *out = "";
  while (next_line(manual->text, &at, &line)) {
    if (found && line.size > 0 && line.at[0] != ' ')
      break;
    if (found && line.size > 4)
      out = arena_print(manual->arena, "%s%.*s\n", out, SLICE_ARG(slice_part(line, 4, line.size)));
    found = found || begins(line, title);
  }
  if (out[0] == '\0')
    fail_msg("the manual has no block '%s'", title);
  return out;
}

static struct bench manual_bench(void **state, const struct manual *manual)
{
  const char *pack = arena_print(manual->arena, "%s%s", block(manual, "The limits:"), block(manual, "The phases:"));
  return bench_new(state, (struct given){.settings = block(manual, "The settings:"),
                                         .before = block(manual, "The settings as they were before:"),
                                         .job = block(manual, "The job sheet:"),
                                         .log = block(manual, "The log:"),
                                         .limits = pack});
}

/* Calls `visit` for each example; returns how many there are. Every line "> ..." must have its "= ...". */
static size_t examples(const struct manual *manual, void (*visit)(void *context, const char *expr, const char *wanted),
                       void *context)
{
  struct slice line;
  size_t at = 0, count = 0;
  while (next_line(manual->text, &at, &line)) {
    if (!begins(line, "    > "))
      continue;
    const char *expr = arena_text(manual->arena, slice_part(line, 6, line.size));
    if (!next_line(manual->text, &at, &line) || !begins(line, "    = "))
      fail_msg("no result follows the example '%s'", expr);
    visit(context, expr, arena_text(manual->arena, slice_part(line, 6, line.size)));
    count++;
  }
  return count;
}

static void run(void *context, const char *expr, const char *wanted)
{
  expect_shown(context, expr, wanted);
}

static void examples_give_what_the_manual_says(void **state)
{
  struct arena *arena = arena_new();
  struct manual manual = manual_open(sources_new(arena), arena);
  struct bench bench = manual_bench(state, &manual);
  size_t written = 0;
  for (size_t i = 0; i + 7 < manual.text.size; i++)
    written += memcmp(manual.text.at + i, "\n    > ", 7) == 0;
  assert_int_equal(examples(&manual, run, &bench), written);
  assert_true(written >= 100);
  bench_free(&bench);
  arena_free(arena);
}

struct search {
  const char *word;
  size_t found;
};

static bool is_word_byte(char c)
{
  return (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || c == '_' || c == '.';
}

static void look(void *context, const char *expr, const char *wanted)
{
  struct search *search = context;
  (void)wanted;
  for (const char *at = strstr(expr, search->word); at; at = strstr(at + 1, search->word))
    search->found += at == expr || !is_word_byte(search->word[0]) || !is_word_byte(at[-1]);
}

static void every_function_has_an_example(void **state)
{
  (void)state;
  struct arena *arena = arena_new();
  struct manual manual = manual_open(sources_new(arena), arena);
  assert_true(builtins_count() > 0);
  for (size_t i = 0; i < builtins_count(); i++) {
    struct search search = {arena_print(arena, "%s(", builtins_at(i)->name), 0};
    examples(&manual, look, &search);
    if (search.found == 0)
      fail_msg("%s has no example in the manual", builtins_at(i)->name);
  }
  arena_free(arena);
}

static void every_operator_has_an_example(void **state)
{
  static const char *const operators[] = {" or ",  " and ",       "not ", " == ", " != ", " < ", " <= ", " > ", " >= ",
                                          " in [", " otherwise ", " + ",  " - ",  " * ",  " / ", "-(",   "p."};
  (void)state;
  struct arena *arena = arena_new();
  struct manual manual = manual_open(sources_new(arena), arena);
  for (size_t i = 0; i < sizeof operators / sizeof *operators; i++) {
    struct search search = {operators[i], 0};
    examples(&manual, look, &search);
    if (search.found == 0)
      fail_msg("'%s' has no example in the manual", operators[i]);
  }
  arena_free(arena);
}

static void the_table_of_functions_is_that_of_the_program(void **state)
{
  (void)state;
  struct arena *arena = arena_new();
  struct manual manual = manual_open(sources_new(arena), arena);
  const char *wanted = FUNCTIONS_BEGIN;
  for (size_t i = 0; i < FUNCTIONS_LINES; i++)
    wanted = arena_print(arena, "%s%s", wanted, functions_table[i]);
  wanted = arena_print(arena, "%s%s", wanted, FUNCTIONS_END);
  assert_int_equal(FUNCTIONS_LINES, builtins_count() + 1);
  if (!strstr(arena_text(arena, manual.text), wanted))
    fail_msg("the manual's table of functions is not that of src/expr/builtin.def: make docs");
  arena_free(arena);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(examples_give_what_the_manual_says),
      cmocka_unit_test(every_function_has_an_example),
      cmocka_unit_test(every_operator_has_an_example),
      cmocka_unit_test(the_table_of_functions_is_that_of_the_program),
  };
  return cmocka_run_group_tests_name("expr manual", tests, dictionary_open, dictionary_close);
}
