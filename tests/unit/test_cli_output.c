/* Reports to files: whole or not at all, and never over an input. */
#include "cli/output.h"

#include <dirent.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cmocka.h>

struct bench {
  struct arena *arena;
  struct problems problems;
  struct output_request wanted[2];
  struct request request;
  char folder[64];
};

static int bench_new(void **state)
{
  struct bench *bench = calloc(1, sizeof *bench);
  if (bench == NULL)
    return -1;
  bench->arena = arena_new();
  problems_init(&bench->problems, bench->arena, PROBLEM_OF_USAGE);
  strcpy(bench->folder, "/tmp/keyway-output-XXXXXX");
  bench->request.outputs = bench->wanted;
  *state = bench;
  return mkdtemp(bench->folder) == NULL ? -1 : 0;
}

static const char *path_of(struct bench *bench, const char *name)
{
  return arena_print(bench->arena, "%s/%s", bench->folder, name);
}

static size_t files_in(const struct bench *bench)
{
  size_t count = 0;
  DIR *folder = opendir(bench->folder);
  assert_non_null(folder);
  for (const struct dirent *entry = readdir(folder); entry != NULL; entry = readdir(folder))
    count += strcmp(entry->d_name, ".") != 0 && strcmp(entry->d_name, "..") != 0;
  closedir(folder);
  return count;
}

static int bench_free(void **state)
{
  struct bench *bench = *state;
  static const char *const names[] = {"a", "b", "input"};
  for (size_t i = 0; i < sizeof names / sizeof names[0]; i++)
    unlink(path_of(bench, names[i]));
  int left = rmdir(bench->folder);
  arena_free(bench->arena);
  free(bench);
  return left;
}

static void ask(struct bench *bench, const char *name)
{
  struct output_request *wanted = &bench->wanted[bench->request.output_count++];
  wanted->format = &report_formats[0];
  wanted->file = path_of(bench, name);
}

static void write_file(const char *path, const char *text)
{
  FILE *file = fopen(path, "w");
  assert_non_null(file);
  assert_true(fputs(text, file) >= 0);
  assert_int_equal(fclose(file), 0);
}

static void assert_holds(const char *path, const char *wanted)
{
  char text[64] = "";
  FILE *file = fopen(path, "r");
  assert_non_null(file);
  text[fread(text, 1, sizeof text - 1, file)] = '\0';
  fclose(file);
  assert_string_equal(text, wanted);
}

/* The old content stays until the new one is whole. */
static void test_output_replaces(void **state)
{
  struct bench *bench = *state;
  struct outputs outputs;
  ask(bench, "a");
  ask(bench, "b");
  write_file(path_of(bench, "a"), "old");
  assert_true(outputs_open(bench->arena, &bench->request, NULL, 0, &outputs, &bench->problems));
  fputs("new", outputs.items[0].stream);
  fputs("other", outputs.items[1].stream);
  assert_int_equal(fflush(outputs.items[0].stream), 0);
  assert_holds(path_of(bench, "a"), "old");
  assert_null(outputs_commit(bench->arena, &outputs));
  assert_holds(path_of(bench, "a"), "new");
  assert_holds(path_of(bench, "b"), "other");
  assert_int_equal(files_in(bench), 2);
}

static void test_output_dropped(void **state)
{
  struct bench *bench = *state;
  struct outputs outputs;
  ask(bench, "a");
  write_file(path_of(bench, "a"), "old");
  assert_true(outputs_open(bench->arena, &bench->request, NULL, 0, &outputs, &bench->problems));
  fputs("new", outputs.items[0].stream);
  outputs_drop(&outputs);
  assert_holds(path_of(bench, "a"), "old");
  assert_int_equal(files_in(bench), 1);
}

/* Under another name, too: a link to the input is the input. */
static void test_output_spares_inputs(void **state)
{
  struct bench *bench = *state;
  struct outputs outputs;
  write_file(path_of(bench, "input"), "settings");
  assert_int_equal(link(path_of(bench, "input"), path_of(bench, "a")), 0);
  ask(bench, "b");
  ask(bench, "a");
  const char *const inputs[] = {"-", path_of(bench, "input")};
  assert_false(outputs_open(bench->arena, &bench->request, inputs, 2, &outputs, &bench->problems));
  assert_int_equal(bench->problems.count, 1);
  assert_non_null(strstr(bench->problems.items[0].message, "would overwrite an input"));
  assert_holds(path_of(bench, "input"), "settings");
  assert_int_equal(files_in(bench), 2);
}

static void test_output_refused(void **state)
{
  struct bench *bench = *state;
  struct outputs outputs;
  ask(bench, "no/such/folder");
  assert_false(outputs_open(bench->arena, &bench->request, NULL, 0, &outputs, &bench->problems));
  assert_non_null(strstr(bench->problems.items[0].message, "cannot write '"));
  bench->request.output_count = 0;
  ask(bench, ".");
  assert_false(outputs_open(bench->arena, &bench->request, NULL, 0, &outputs, &bench->problems));
  assert_int_equal(bench->problems.count, 2);
  assert_int_equal(files_in(bench), 0);
}

/* /dev/full (Linux: full(4)) refuses every write as a full disk does. */
static void test_output_full_disk(void **state)
{
  struct bench *bench = *state;
  struct outputs outputs;
  bench->wanted[0] = (struct output_request){&report_formats[0], "/dev/full"};
  bench->request.output_count = 1;
  assert_true(outputs_open(bench->arena, &bench->request, NULL, 0, &outputs, &bench->problems));
  fputs("new", outputs.items[0].stream);
  const char *why = outputs_commit(bench->arena, &outputs);
  assert_non_null(why);
  assert_non_null(strstr(why, "cannot write '/dev/full'"));
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test_setup_teardown(test_output_replaces, bench_new, bench_free),
      cmocka_unit_test_setup_teardown(test_output_dropped, bench_new, bench_free),
      cmocka_unit_test_setup_teardown(test_output_spares_inputs, bench_new, bench_free),
      cmocka_unit_test_setup_teardown(test_output_refused, bench_new, bench_free),
      cmocka_unit_test_setup_teardown(test_output_full_disk, bench_new, bench_free),
  };
  return cmocka_run_group_tests_name("cli/output", tests, NULL, NULL);
}
