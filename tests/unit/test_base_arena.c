/* The arena: zeroed, aligned, apart from each other; growth keeps what was there. */
#include "base/arena.h"

#include <stdalign.h>
#include <stdint.h>
/* cmocka wants these before itself */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

static void pieces_are_zeroed_aligned_and_apart(void **state)
{
  (void)state;
  struct arena *arena = arena_new();
  enum { PIECES = 4000 };
  unsigned char *pieces[PIECES];
  size_t sizes[PIECES];
  size_t asked = 0;
  for (size_t i = 0; i < PIECES; i++) {
    /* Small ones, and now and then one larger than a block. */
    sizes[i] = i % 97 == 0 ? 70000 + i : i % 61;
    pieces[i] = arena_alloc(arena, sizes[i]);
    asked += sizes[i];
    assert_non_null(pieces[i]);
    assert_int_equal((uintptr_t)pieces[i] % alignof(max_align_t), 0);
    for (size_t k = 0; k < sizes[i]; k++)
      assert_int_equal(pieces[i][k], 0);
    memset(pieces[i], (int)(i & 0xff), sizes[i]);
  }
  for (size_t i = 0; i < PIECES; i++) {
    for (size_t k = 0; k < sizes[i]; k++)
      assert_int_equal(pieces[i][k], i & 0xff);
  }
  assert_true(arena_used(arena) >= asked);
  arena_free(arena);
}

static void growth_keeps_items(void **state)
{
  (void)state;
  struct arena *arena = arena_new();
  int *items = NULL;
  size_t capacity = 0;
  for (int i = 0; i < 10000; i++) {
    items = arena_grow(arena, items, (size_t)i, &capacity, sizeof *items);
    assert_true(capacity > (size_t)i);
    items[i] = i;
  }
  for (int i = 0; i < 10000; i++)
    assert_int_equal(items[i], i);
  arena_free(arena);
}

static void copies_keep_every_byte(void **state)
{
  (void)state;
  struct arena *arena = arena_new();
  struct slice raw = {"a\0b\n", 4};
  struct slice copy = arena_slice(arena, raw);
  assert_true(slice_equal(raw, copy));
  assert_ptr_not_equal(raw.at, copy.at);
  assert_int_equal(copy.at[4], '\0');
  assert_string_equal(arena_text(arena, (struct slice){NULL, 0}), "");
  assert_string_equal(arena_print(arena, "%d %s", 42, "rpm"), "42 rpm");
  char *large = arena_print(arena, "%70000d", 7);
  assert_int_equal(strlen(large), 70000);
  arena_free(arena);
}

static void freeing_nothing_is_allowed(void **state)
{
  (void)state;
  struct arena *arena = arena_new();
  assert_int_equal(arena_used(arena), 0);
  arena_free(arena);
  arena_free(NULL);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(pieces_are_zeroed_aligned_and_apart),
      cmocka_unit_test(growth_keeps_items),
      cmocka_unit_test(copies_keep_every_byte),
      cmocka_unit_test(freeing_nothing_is_allowed),
  };
  return cmocka_run_group_tests_name("base arena", tests, NULL, NULL);
}
