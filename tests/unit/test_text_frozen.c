/* Frozen trees: what YAML reads is what comes back, and no cut or changed bytes are taken for a tree that runs past its
 * end. */
#include "text/frozen.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

static const char text[] =
    "a: 1\nlist: [x, \"y z\", 'q']\nempty: []\nblock: |\n  one\n  two\nmap: {k: {deep: [1, [2, 3]]}}\nblank:\n";

static void same(const struct node *a, const struct node *b)
{
  assert_int_equal(a->kind, b->kind);
  assert_int_equal(a->quoted, b->quoted);
  assert_int_equal(a->block, b->block);
  assert_int_equal(a->count, b->count);
  if (a->kind == NODE_SCALAR)
    assert_true(slice_equal(a->text, b->text));
  for (size_t i = 0; i < a->count; i++) {
    if (a->kind == NODE_LIST) {
      same(&a->items[i], &b->items[i]);
    } else {
      same(&a->pairs[i].key, &b->pairs[i].key);
      same(&a->pairs[i].value, &b->pairs[i].value);
    }
  }
}

struct fixture {
  struct arena *arena;
  struct sources *sources;
  const struct node *root;
  char *bytes;
  size_t size;
};

static int freeze(void **state)
{
  struct fixture *f = calloc(1, sizeof *f);
  f->arena = arena_new();
  f->sources = sources_new(f->arena);
  struct problems problems;
  problems_init(&problems, f->arena, PROBLEM_OF_INPUT);
  f->root = yaml_read(f->arena, sources_memory(f->sources, "test", slice_of(text)), &problems);
  FILE *out = open_memstream(&f->bytes, &f->size);
  bool written = f->root && frozen_write(out, f->root);
  fclose(out);
  *state = f;
  return written ? 0 : 1;
}

static int done(void **state)
{
  struct fixture *f = *state;
  arena_free(f->arena);
  free(f->bytes);
  free(f);
  return 0;
}

static const struct node *thawed(struct fixture *f, size_t size)
{
  return frozen_read(f->arena, sources_frozen(f->sources, "frozen", (struct slice){f->bytes, size}));
}

static void comes_back(void **state)
{
  struct fixture *f = *state;
  const struct node *back = thawed(f, f->size);
  assert_non_null(back);
  same(f->root, back);
}

static void cut_is_refused(void **state)
{
  struct fixture *f = *state;
  for (size_t size = 0; size < f->size; size++)
    assert_null(thawed(f, size));
}

/* Each byte set to each value: a tree or a refusal, never a read past the end (the sanitizers watch). */
static void changed_is_safe(void **state)
{
  struct fixture *f = *state;
  size_t refused = 0;
  for (size_t i = 0; i < f->size; i++) {
    char was = f->bytes[i];
    for (int value = 0; value < 256; value++) {
      f->bytes[i] = (char)value;
      refused += thawed(f, f->size) == NULL;
    }
    f->bytes[i] = was;
  }
  assert_true(refused > 0);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test_setup_teardown(comes_back, freeze, done),
      cmocka_unit_test_setup_teardown(cut_is_refused, freeze, done),
      cmocka_unit_test_setup_teardown(changed_is_safe, freeze, done),
  };
  return cmocka_run_group_tests_name("text frozen", tests, NULL, NULL);
}
