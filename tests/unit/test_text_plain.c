/* The quick reader of plain YAML against libyaml: whatever it reads is what libyaml reads, with the same places, and it
 * reads nothing that libyaml refuses. Both come out of yaml_read: a carriage return in a comment at the end leaves a
 * file to libyaml. */
#include "text/plain.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#define FOR_LIBYAML "\n#\r"

static void same(const struct node *a, const struct node *b)
{
  assert_int_equal(a->kind, b->kind);
  assert_int_equal(a->quoted, b->quoted);
  assert_int_equal(a->block, b->block);
  assert_int_equal(a->count, b->count);
  assert_int_equal(a->place.start, b->place.start);
  assert_int_equal(a->place.end, b->place.end);
  if (a->kind == NODE_SCALAR) {
    assert_true(slice_equal(a->text, b->text));
    assert_int_equal(a->text.at[a->text.size], '\0');
  }
  for (size_t i = 0; i < a->count; i++) {
    if (a->kind == NODE_LIST) {
      same(&a->items[i], &b->items[i]);
    } else {
      same(&a->pairs[i].key, &b->pairs[i].key);
      same(&a->pairs[i].value, &b->pairs[i].value);
    }
  }
}

/* Whether the quick reader took it. */
static bool agrees(struct slice text)
{
  struct arena *arena = arena_new();
  struct sources *sources = sources_new(arena);
  struct problems problems;
  problems_init(&problems, arena, PROBLEM_OF_INPUT);
  const struct node *quick = plain_read(arena, sources_memory(sources, "quick", text), 0);
  if (quick) {
    const char *longer = arena_print(arena, "%.*s%s", SLICE_ARG(text), FOR_LIBYAML);
    const struct source *source = sources_memory(sources, "libyaml", slice_of(longer));
    assert_null(plain_read(arena, source, 0));
    const struct node *slow = yaml_read(arena, source, &problems);
    if (!slow)
      fail_msg("read, though libyaml says '%s':\n%.*s", problems.items[0].message, SLICE_ARG(text));
    same(quick, slow);
  }
  arena_free(arena);
  return quick != NULL;
}

static void plain_files_are_taken(void **state)
{
  (void)state;
  static const char *const files[] = {
      "examples/sandpiper/as-it-came/settings.yaml", "examples/sandpiper/as-it-came/job.yaml",
      "examples/sandpiper/as-it-left/settings.yaml", "examples/sandpiper/as-it-left/job.yaml"};
  for (size_t i = 0; i < sizeof files / sizeof *files; i++) {
    struct arena *arena = arena_new();
    struct sources *sources = sources_new(arena);
    struct problems problems;
    problems_init(&problems, arena, PROBLEM_OF_INPUT);
    const struct source *source = sources_open(sources, files[i], 1 << 22, &problems);
    assert_non_null(source);
    if (!agrees(source->bytes))
      fail_msg("%s is not read quickly", files[i]);
    arena_free(arena);
  }
}

/* Each has something that the quick reader must not have an opinion on, or that is wrong. */
static void others_are_left(void **state)
{
  (void)state;
  static const char *const texts[] = {
      "",
      "# nothing\n",
      "a\n",
      " a: 1\n",
      "a:\n",
      "a: 1\na: 2\n",
      "a: b: c\n",
      "a: 1\n b: 2\n",
      "a: one\n  two\n",
      "a: 'it''s'\n",
      "a: \"\\n\"\n",
      "a: \"open\n",
      "a: |\n  b\n",
      "a: &b 1\n",
      "a: *b\n",
      "a: !!int 1\n",
      "a: [1, 2\n",
      "a: [1, 2,]\n",
      "a: [1, , 2]\n",
      "a: [b: 1]\n",
      "a: {b}\n",
      "a: {b: 1, b: 2}\n",
      "a: {b:1}\n",
      "a: [1] 2\n",
      "a: [1]#c\n",
      "? a\n: b\n",
      "<<: {a: 1}\n",
      "%YAML 1.1\n---\na: 1\n",
      "---\na: 1\n",
      "a: 1\n...\n",
      "a: 1\r\n",
      "a:\t1\n",
      "a: 1\t# c\n",
      "- 1\na: 1\n",
      "a: - 1\n",
      "-\n",
      "a: 1\n- 2\n",
      "\"\": 1\n",
  };
  for (size_t i = 0; i < sizeof texts / sizeof *texts; i++) {
    if (agrees(slice_of(texts[i])))
      fail_msg("taken: %s", texts[i]);
  }
}

static uint64_t next(uint64_t *seed)
{
  *seed ^= *seed << 13;
  *seed ^= *seed >> 7;
  *seed ^= *seed << 17;
  return *seed;
}

/* Bytes of plain files exchanged, put in and taken out at random. */
static void random_changes_agree(void **state)
{
  (void)state;
  static const char *const texts[] = {
      "a: 1\nb.c: two words # said\nlist: [x, \"y z\", 'q']\nmap: {k: {d: [1, [2, 3]]}, l: -1.5}\n",
      "a:\n  b: 1\n  c:\n    - 1\n    - k: v\n      w: [1,\n        2]\n  d:\n  - x\n  - y: z\ne: \"q\"\n",
      "- a: 1\n  b:\n    c: [ ]\n- - 1\n  - 2\n-\n  d: {}\n# end\n",
      "rows:\n  - [ 1.0, 2.0 ]  # 20\n  - [ 3.0, 4.0 ]  # 30\n\nunit: \"%\"\n'k e y': (a > 1) or \"b\"\nw: a, b [c]\n",
  };
  static const char bits[] = "abc 1:-#[]{},'\"\n  \n- : \\?.&*!|>%@`~=+_(";
  uint64_t seed = 20240611;
  size_t taken = 0;
  for (size_t round = 0; round < 60000; round++) {
    char text[512];
    const char *from = texts[next(&seed) % (sizeof texts / sizeof *texts)];
    size_t size = strlen(from);
    memcpy(text, from, size);
    for (size_t k = next(&seed) % 5 + 1; k > 0; k--) {
      size_t at = next(&seed) % size, kind = next(&seed) % 4;
      if (kind == 0 && size > 2) {
        memmove(text + at, text + at + 1, size - at - 1);
        size--;
      } else if (kind == 1) {
        text[at] = bits[next(&seed) % (sizeof bits - 1)];
      } else if (kind == 2) {
        memmove(text + at + 1, text + at, size - at);
        text[at] = bits[next(&seed) % (sizeof bits - 1)];
        size++;
      } else { /* the end goes */
        size = next(&seed) % 8 == 0 ? at + 1 : size;
      }
    }
    taken += agrees((struct slice){text, size});
  }
  assert_true(taken > 5000);
}

int main(void)
{
  const struct CMUnitTest tests[] = {cmocka_unit_test(plain_files_are_taken), cmocka_unit_test(others_are_left),
                                     cmocka_unit_test(random_changes_agree)};
  return cmocka_run_group_tests_name("text/plain", tests, NULL, NULL);
}
