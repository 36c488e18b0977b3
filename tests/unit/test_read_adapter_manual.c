/* The examples of rules/ADAPTERS.md: every indented block is an adapter, a part of one, or belongs to the example at
 * the end, which is run. */
#include "test_read_adapter_help.h"

struct blocks {
  size_t count;
  const char *items[32];
};

/* Lines indented by four blanks, without them; a blank line within stays out. */
static struct blocks blocks_read(struct run *run)
{
  struct blocks blocks = {0};
  const struct source *source = sources_open(run->sources, "rules/ADAPTERS.md", LIMIT_YAML_BYTES, &run->problems);
  assert_non_null(source);
  struct slice rest = source->bytes;
  bool inside = false;
  while (rest.size > 0) {
    const char *end = memchr(rest.at, '\n', rest.size);
    size_t size = end == NULL ? rest.size : (size_t)(end - rest.at);
    struct slice line = slice_part(rest, 0, size);
    bool code = size > 4 && memcmp(line.at, "    ", 4) == 0;
    if (code && !inside) {
      assert_true(blocks.count < 32);
      blocks.items[blocks.count++] = "";
    }
    if (code)
      blocks.items[blocks.count - 1] =
          arena_print(run->arena, "%s%.*s\n", blocks.items[blocks.count - 1], SLICE_ARG(slice_part(line, 4, size)));
    inside = code;
    rest = slice_part(rest, end == NULL ? size : size + 1, rest.size);
  }
  return blocks;
}

static bool starts(const char *text, const char *with)
{
  return strncmp(text, with, strlen(with)) == 0;
}

/* An entry of `settings`, indented and put below its heading. */
static const char *as_entry(struct arena *arena, const char *block)
{
  const char *text = LINES "settings:\n";
  while (*block != '\0') {
    size_t size = strcspn(block, "\n");
    text = arena_print(arena, "%s  %.*s\n", text, (int)size, block);
    block += size + 1;
  }
  return text;
}

static void test_fragments(void **state)
{
  (void)state;
  struct run run = run_new();
  struct blocks blocks = blocks_read(&run);
  size_t adapters = 0, parts = 0;
  for (size_t i = 0; i < blocks.count; i++) {
    const char *text = blocks.items[i];
    if (starts(text, "# Tern box") || starts(text, "keyway-settings"))
      continue;
    bool whole = starts(text, "keyway-adapter"), log = starts(text, "log:");
    if (!whole)
      text = log ? arena_print(run.arena, "%s%s", START, text) : as_entry(run.arena, text);
    struct adapted a = adapted_new(text, NULL);
    assert_string_equal(run_said(&a.run), "");
    assert_non_null(a.adapter);
    adapted_free(&a);
    adapters += whole;
    parts += !whole;
  }
  assert_true(adapters >= 2);
  assert_true(parts >= 5);
  run_free(&run);
}

static void test_example(void **state)
{
  (void)state;
  struct run run = run_new();
  struct blocks blocks = blocks_read(&run);
  size_t ran = 0;
  for (size_t i = 0; i + 2 < blocks.count; i++) {
    if (!starts(blocks.items[i], "# Tern box"))
      continue;
    struct adapted a = adapted_new(blocks.items[i + 1], blocks.items[i]);
    const char *text = arena_print(run.arena, "keyway-settings: 1\n%s", adapted_text(&a));
    assert_string_equal(text, blocks.items[i + 2]);
    assert_int_equal(a.use.unknown, 0);
    adapted_free(&a);
    ran++;
  }
  assert_int_equal(ran, 1);
  run_free(&run);
}

int main(void)
{
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_fragments), cmocka_unit_test(test_example)};
  return cmocka_run_group_tests_name("the manual of adapters", tests, NULL, NULL);
}
