/* Opening inputs (and refusing what is none), printed names, and line and column against a plain count. */
#include "base/source.h"

#include <fcntl.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cmocka.h>

struct bench {
  struct arena *arena;
  struct sources *sources;
  struct problems problems;
  char folder[64];
};

static int bench_up(void **state)
{
  struct bench *bench = calloc(1, sizeof *bench);
  if (bench == NULL)
    return -1;
  bench->arena = arena_new();
  bench->sources = sources_new(bench->arena);
  problems_init(&bench->problems, bench->arena, PROBLEM_OF_INPUT);
  strcpy(bench->folder, "/tmp/keyway-test-XXXXXX");
  *state = bench;
  return mkdtemp(bench->folder) == NULL ? -1 : 0;
}

static int bench_down(void **state)
{
  struct bench *bench = *state;
  int gone = rmdir(bench->folder);
  arena_free(bench->arena);
  free(bench);
  return gone;
}

static char *file_make(struct bench *bench, const char *name, size_t size)
{
  char *path = arena_print(bench->arena, "%s/%s", bench->folder, name);
  FILE *file = fopen(path, "w");
  assert_non_null(file);
  for (size_t i = 0; i < size; i++)
    fputc('a' + (int)(i % 26), file);
  assert_int_equal(fclose(file), 0);
  return path;
}

static void check_refused(struct bench *bench, const char *path, uint64_t limit, const char *message)
{
  size_t before = bench->problems.count;
  assert_null(sources_open(bench->sources, path, limit, &bench->problems));
  assert_int_equal(bench->problems.count, before + 1);
  assert_string_equal(bench->problems.items[before].message, message);
  uint32_t id = bench->problems.items[before].place.source;
  assert_true(slice_is(sources_get(bench->sources, id)->path, path));
}

static void limit_is_read_and_one_past_is_refused(void **state)
{
  struct bench *bench = *state;
  char *path = file_make(bench, "at-limit", 1000);
  const struct source *source = sources_open(bench->sources, path, 1000, &bench->problems);
  assert_non_null(source);
  assert_int_equal(source->bytes.size, 1000);
  assert_memory_equal(source->bytes.at, "abcdefghijklmnopqrstuvwxyzab", 28);
  assert_ptr_equal(sources_get(bench->sources, source->id), source);
  assert_int_equal(bench->problems.count, 0);
  check_refused(bench, path, 999, "is over the limit of 0.0009527 MB by 1 byte");
  unlink(path);
  path = file_make(bench, "empty", 0);
  source = sources_open(bench->sources, path, 0, &bench->problems);
  assert_non_null(source);
  assert_int_equal(source->bytes.size, 0);
  unlink(path);
}

static void what_is_no_file_is_refused(void **state)
{
  struct bench *bench = *state;
  alarm(20); /* a pipe that is opened and waited for must fail the test, not hang it */
  check_refused(bench, "/nonexistent/settings.yaml", 100, "cannot read: no such file");
  check_refused(bench, bench->folder, 100, "cannot read: is a directory");
  check_refused(bench, "/dev/zero", 100, "cannot read: is not a regular file");
  char *pipe_path = arena_print(bench->arena, "%s/pipe", bench->folder);
  assert_int_equal(mkfifo(pipe_path, 0600), 0);
  check_refused(bench, pipe_path, 100, "cannot read: is not a regular file");
  assert_non_null(bench->problems.items[bench->problems.count - 1].hint);
  unlink(pipe_path);
  char *path = file_make(bench, "large", 300000);
  check_refused(bench, path, 100000, "is 0.3 MB; the limit is 0.09537 MB");
  check_refused(bench, arena_print(bench->arena, "%s/below", path), 100, "cannot read: no such file");
  /* The superuser may read everything. */
  if (geteuid() != 0) {
    assert_int_equal(chmod(path, 0), 0);
    check_refused(bench, path, 1000000, "cannot read: permission denied");
  }
  unlink(path);
  alarm(0);
}

/* Puts `size` bytes on standard input for the length of one sources_open. */
static const struct source *open_stdin(struct bench *bench, size_t size, uint64_t limit)
{
  int ends[2], kept = dup(STDIN_FILENO);
  assert_int_equal(pipe(ends), 0);
  char bytes[1000];
  memset(bytes, 'x', sizeof bytes);
  assert_int_equal(write(ends[1], bytes, size), (ssize_t)size);
  close(ends[1]);
  assert_int_equal(dup2(ends[0], STDIN_FILENO), STDIN_FILENO);
  close(ends[0]);
  const struct source *source = sources_open(bench->sources, "-", limit, &bench->problems);
  assert_int_equal(dup2(kept, STDIN_FILENO), STDIN_FILENO);
  close(kept);
  return source;
}

static void standard_input_is_read_once(void **state)
{
  struct bench *bench = *state;
  const struct source *source = open_stdin(bench, 700, 700);
  assert_non_null(source);
  assert_int_equal(source->bytes.size, 700);
  assert_true(slice_is(source->name, "standard input"));
  check_refused(bench, "-", 700, "cannot be read twice: '-' was given for two inputs");
}

static void standard_input_past_the_limit_is_refused(void **state)
{
  struct bench *bench = *state;
  assert_null(open_stdin(bench, 701, 700));
  assert_int_equal(bench->problems.count, 1);
}

static void check_names(const char *root, const char *const *paths, const char *const *names, size_t count)
{
  struct arena *arena = arena_new();
  struct sources *sources = sources_new(arena);
  struct problems problems;
  problems_init(&problems, arena, PROBLEM_OF_INPUT);
  for (size_t i = 0; i < count; i++)
    sources_open(sources, paths[i], 10, &problems);
  const struct source *pack = sources_memory(sources, "idle.yaml", slice_of("x"));
  sources_name(sources, root);
  for (size_t i = 0; i < count; i++)
    assert_string_equal(arena_text(arena, sources_get(sources, (uint32_t)i + 1)->name), names[i]);
  assert_true(slice_is(pack->name, "idle.yaml"));
  arena_free(arena);
}

/* The files need not exist: a file that cannot be read has a name too. */
static void names_are_the_shortest_tail_that_tells(void **state)
{
  (void)state;
#define CHECK(root, count, ...)                        \
  do {                                                 \
    const char *const rows[][(count)] = {__VA_ARGS__}; \
    check_names((root), rows[0], rows[1], (count));    \
  } while (0)
  CHECK(NULL, 1, {"/no/such/car/settings.yaml"}, {"settings.yaml"});
  CHECK(NULL, 2, {"/no/such/a/s.yaml", "no/b/s.yaml"}, {"a/s.yaml", "b/s.yaml"});
  CHECK(NULL, 3, {"/no/a/x/s.yaml", "/no/b/x/s.yaml", "/no/log.csv"}, {"a/x/s.yaml", "b/x/s.yaml", "log.csv"});
  CHECK(NULL, 2, {"no/s.yaml", "./no//./s.yaml"}, {"s.yaml", "s.yaml"});
  CHECK(NULL, 2, {"s.no", "no/s.no"}, {"s.no", "no/s.no"});
  CHECK(NULL, 1, {"/"}, {"/"});
  CHECK("no", 2, {"no/a/s.yaml", "no/b/t.yaml"}, {"a/s.yaml", "b/t.yaml"});
  CHECK("./no/", 2, {"no/a/s.yaml", "nob/b/t.yaml"}, {"a/s.yaml", "t.yaml"});
  CHECK("/no", 2, {"no/a/s.yaml", "/no/t.yaml"}, {"s.yaml", "t.yaml"});
  CHECK("/no/t.yaml", 1, {"/no/t.yaml"}, {"t.yaml"});
#undef CHECK
}

static void check_position(const char *text, struct place place, uint64_t line, uint64_t column, const char *shown,
                           size_t from, size_t to)
{
  struct arena *arena = arena_new();
  struct sources *sources = sources_new(arena);
  place.source = sources_memory(sources, "t", slice_of(text))->id;
  struct position got;
  assert_true(sources_position(sources, place, &got));
  assert_int_equal(got.line, line);
  assert_int_equal(got.column, column);
  assert_string_equal(arena_text(arena, got.text), shown);
  assert_int_equal(got.from, from);
  assert_int_equal(got.to, to);
  arena_free(arena);
}

static void positions_are_as_people_count(void **state)
{
  (void)state;
  check_position("", (struct place){0, 0, 0}, 1, 1, "", 0, 1);
  check_position("ab\ncd\n", (struct place){0, 3, 5}, 2, 1, "cd", 0, 2);
  check_position("ab\ncd\n", (struct place){0, 4, 4}, 2, 2, "cd", 1, 2);
  /* At a line end, and at the end of the file. */
  check_position("ab\ncd\n", (struct place){0, 2, 3}, 1, 3, "ab", 2, 3);
  check_position("ab\ncd\n", (struct place){0, 6, 6}, 3, 1, "", 0, 1);
  check_position("ab\ncd", (struct place){0, 5, 5}, 2, 3, "cd", 2, 3);
  check_position("ab\ncd", (struct place){0, 99, 120}, 2, 3, "cd", 2, 3);
  /* Over several lines: cut at the first. */
  check_position("ab\ncd\n", (struct place){0, 1, 5}, 1, 2, "ab", 1, 2);
  check_position("ab\r\ncd\r\n", (struct place){0, 4, 6}, 2, 1, "cd", 0, 2);
  check_position("ab\r\ncd", (struct place){0, 2, 3}, 1, 3, "ab", 2, 3);
  /* A tab is one character, a degree sign too; a span never cuts a character. */
  check_position("\tx", (struct place){0, 1, 2}, 1, 2, "\tx", 1, 2);
  check_position("\xC2\xB0x", (struct place){0, 2, 3}, 1, 2, "\xC2\xB0x", 2, 3);
  check_position("a\xC2\xB0x", (struct place){0, 2, 2}, 1, 2, "a\xC2\xB0x", 1, 3);
  /* A byte order mark is no character. */
  check_position("\xEF\xBB\xBFkey", (struct place){0, 3, 6}, 1, 1, "key", 0, 3);
  check_position("\xEF\xBB\xBFkey", (struct place){0, 0, 0}, 1, 1, "key", 0, 1);
}

static void no_place_has_no_position(void **state)
{
  struct bench *bench = *state;
  struct position got;
  assert_false(sources_position(bench->sources, PLACE_NONE, &got));
  assert_int_equal(got.line, 0);
  assert_false(sources_position(bench->sources, (struct place){7, 0, 0}, &got));
  assert_null(sources_get(bench->sources, 0));
  assert_null(sources_get(bench->sources, 1));
}

/* Over several blocks of the line table, with lines from none to longer than a block, against a plain count. */
static void positions_agree_with_a_plain_count(void **state)
{
  struct bench *bench = *state;
  size_t size = 400000;
  char *text = arena_alloc(bench->arena, size + 1);
  uint32_t random = 12345;
  for (size_t i = 0; i < size; i++) {
    random = random * 1664525u + 1013904223u; /* Numerical Recipes, 2nd ed., section 7.1 */
    text[i] = i > 150000 && i < 260000 ? 'x' : (random >> 24) < 9 ? '\n' : 'a';
  }
  struct place place = {sources_memory(bench->sources, "t", (struct slice){text, size})->id, 0, 0};
  uint64_t line = 1, column = 1;
  int checked = 0;
  for (size_t i = 0; i < size; i++) {
    if (i % 1009 == 0 || i % 65536 < 2 || i % 65536 == 65535) {
      struct position got;
      place.start = place.end = i;
      assert_true(sources_position(bench->sources, place, &got));
      assert_int_equal(got.line, line);
      assert_int_equal(got.column, column);
      checked++;
    }
    column = text[i] == '\n' ? 1 : column + 1;
    line += text[i] == '\n';
  }
  assert_true(checked > 400);
}

int main(void)
{
#define BENCH_TEST(name) cmocka_unit_test_setup_teardown(name, bench_up, bench_down)
  const struct CMUnitTest tests[] = {
      BENCH_TEST(limit_is_read_and_one_past_is_refused),
      BENCH_TEST(what_is_no_file_is_refused),
      BENCH_TEST(standard_input_is_read_once),
      BENCH_TEST(standard_input_past_the_limit_is_refused),
      cmocka_unit_test(names_are_the_shortest_tail_that_tells),
      cmocka_unit_test(positions_are_as_people_count),
      BENCH_TEST(no_place_has_no_position),
      BENCH_TEST(positions_agree_with_a_plain_count),
  };
  return cmocka_run_group_tests_name("base source", tests, NULL, NULL);
}
