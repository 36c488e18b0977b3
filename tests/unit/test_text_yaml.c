/* text/yaml.h: the tree, its places, and what is said about files that are no YAML or more YAML than is wanted here.
 * Expected structure follows YAML 1.1 (2005-01-18), the version that libyaml implements; columns count characters from
 * 1. The wording is the project's own. */
#include "reading.h"
#include "text/yaml.h"

#include <stdlib.h>
#include <string.h>

static const struct wrong wrongs[] = {
    /* syntax */
    {"a: 1\n b: 2\n",
     "2:3 ':' a colon is not expected here | text that holds ': ' needs quotes; names on the same level "
     "start in the same column"},
    {"a: \"x\nb: 2\n", "1:4 '\"' this quote is never closed | close it with the same quote sign"},
    {"a: 'x\nb: 2\n", "1:4 ''' this quote is never closed | close it with the same quote sign"},
    {"a: [1, 2\nb: 3\n",
     "2:2 ':' a comma or the closing ']' of the list is missing here | the '[' that is open here is "
     "in line 1"},
    {"a: [1, 2", "1:4 '[' this '[' is never closed | close it with ']'"},
    {"a: {b: 1\n", "1:4 '{' this '{' is never closed | close it with '}'"},
    {"a: {b: 1, c: [2}\n",
     "1:16 '}' a comma or the closing ']' of the list is missing here | the '[' that is open here "
     "is in line 1"},
    {"a:1\nb: 2\n", "1:2 ':' a blank is missing after this colon | write 'name: value'"},
    {"z: 1\na:1\nb: 2\n", "2:2 ':' a blank is missing after this colon | write 'name: value'"},
    {"z: 1\nabc\nb: 2\n",
     "2:1 'abc' this line has no colon after its name | write 'name: value', with a blank after the "
     "colon"},
    {"a:\n\tb: 1\n", "2:1 '\t' a tab is used for indentation | indent with blanks"},
    {"a:\n  b: 1\n \tc: 2\n", "3:2 '\t' a tab is used for indentation | indent with blanks"},
    {"a: b: c\n", "1:5 ':' a colon is not expected here | text that holds ': ' needs quotes; names on the same level "
                  "start in the same column"},
    {"a: @x\n", "1:4 '@' a value cannot start with this sign | put quotes around the text"},
    {"a: %x\n", "1:4 '%' a value cannot start with this sign | put quotes around the text"},
    {"a: *.csv\n", "1:4 '*.csv' a value cannot start with this sign | put quotes around the text"},
    {": 1\n", "1:1 ':' a name and a colon are expected here | names on the same level start in the same column; text "
              "that goes on after a closing quote or bracket needs quotes around all of it"},
    {"a: \"x\" y\nb: 1\n", "1:8 'y' a name and a colon are expected here | names on the same level start in the same "
                           "column; text that goes on after a closing quote or bracket needs quotes around all of it"},
    {"a:\n - 1\n  - 2\n- 3\n",
     "4:1 '-' a name and a colon are expected here | items of a list start in the same column"},
    {"a: - 1\n", "1:4 '-' the '-' of a list item is not expected here | items of a list start in the same column"},
    {"a: \"\\q\"\n", "1:5 '\\' a backslash here starts an escape that does not exist | use 'single quotes': there a "
                     "backslash is plain text"},
    {"a: \"\\xzz\"\n", "1:7 'z' this escape needs hexadecimal digits | use 'single quotes': there a backslash is plain "
                       "text"},
    {"a: | x\n  y\n", "1:6 'x' nothing but a comment may follow '|' or '>' on its line | text that starts with '|' or "
                      "'>' needs quotes"},
    {"a: [1,,2]\n", "1:7 ',' a value is missing here | -"},
    {"a: ?\n", "1:4 '?' a lone '?' is not expected here | write the word unknown, or '?' in quotes"},
    {"a: {b: ?, c: 1}\n", "1:8 '?' a value is missing here | write the word unknown, or '?' in quotes"},
    /* more than is wanted */
    {"a: &x 1\n", "1:4 '&x' an anchor ('&') is not accepted here | text that starts with '&' needs quotes"},
    {"a: {b: *x, c: *y}\n*z : 1\n",
     "1:8 '*x' an alias ('*') is not accepted here | text that starts with '*' needs quotes\n"
     "1:15 '*y' an alias ('*') is not accepted here | text that starts with '*' needs quotes\n"
     "2:1 '*z' an alias ('*') is not accepted here | text that starts with '*' needs quotes"},
    {"a: &x [1]\nb: &y {c: !t 1}\n",
     "1:4 '&x' an anchor ('&') is not accepted here | text that starts with '&' needs quotes\n"
     "2:4 '&y' an anchor ('&') is not accepted here | text that starts with '&' needs quotes\n"
     "2:11 '!t' a tag ('!') is not accepted here | text that starts with '!' needs quotes"},
    {"a: !!str 1\n", "1:4 '!!str' a tag ('!') is not accepted here | text that starts with '!' needs quotes"},
    {"a: {<<: {b: 1}}\n", "1:5 '<<' a merge key ('<<') is not accepted here | write out the names that it stands for"},
    {"? [a]\n: 1\n", "1:4 'a' a name must be plain text | -"},
    {"{{b: c}: 1}\n", "1:3 'b: c' a name must be plain text | -"},
    {"? |\n  x\n: 1\n", "1:3 '|' a name must be plain text | -"},
    {"? \n: 1\n", "1:2 ' ' a name is missing before the colon | -"},
    {"a: 1\nb: {c: 1, d: 2, c: 3}\na: 2\na: 4\n", "2:17 'c' 'c' is here a second time | the first one is in line 2\n"
                                                  "3:1 'a' 'a' is here a second time | the first one is in line 1\n"
                                                  "4:1 'a' 'a' is here a second time | the first one is in line 1"},
    {"a: 1\n'a': 2\n", "2:1 ''a'' 'a' is here a second time | the first one is in line 1"},
    {"a: 1\n---\nb: 2\n", "2:1 '---' a second document starts here; a file holds one | -"},
    {"a: 1\n... # end\nb: 2\n",
     "3:1 'b:' this stands outside of what the file holds | names on the same level start in "
     "the same column as the first one"},
    {"  a: 1\nb: 2\n",
     "2:1 'b:' this stands outside of what the file holds | names on the same level start in the same "
     "column as the first one"},
    {"# x\n%YAML 1.1\n---\na: 1\n", "2:1 '%YAML' a directive ('%') is not accepted here | leave this line out"},
    {"", "1:1 '' the file holds nothing | -"},
    {"# only\n\n", "1:1 '#' the file holds nothing | -"},
    {"---\n...\n", "1:1 '-' the file holds nothing | -"},
    /* bytes */
    {"\xff\xfe"
     "a",
     "1:1 '\xff\xfe' the file is UTF-16 | save the file as UTF-8"},
    {"a: b\nc: \x01\n", "2:4 '\x01' a control character is not accepted here | -"},
    {"a: \xc3(\n", "1:4 '\xc3' this byte is not valid UTF-8 | save the file as UTF-8"},
    {"a: \xe2\x80\xa8\n", "1:4 '\xe2\x80\xa8' a Unicode line separator is not accepted here | use a plain line end"},
    {"a: x\xef\xbb\xbfy\n", "1:5 '\xef\xbb\xbf' a control character is not accepted here | -"},
    /* places after characters of several bytes, a BOM and CRLF */
    {"\xc3\xa4: 1\n\xc3\xb6: &x \xc3\xbc\n",
     "2:4 '&x' an anchor ('&') is not accepted here | text that starts with '&' needs quotes"},
    {"\xef\xbb\xbf"
     "a: 1\r\nb: &x 1\r\n",
     "2:4 '&x' an anchor ('&') is not accepted here | text that starts with '&' needs quotes"},
    {"\xef\xbb\xbf\xe2\x82\xac: [\xf0\x9f\x94\xa7, *a]\r\n",
     "1:8 '*a' an alias ('*') is not accepted here | text that starts with '*' needs quotes"},
};

static void wrong_inputs_say_why(void **state)
{
  (void)state;
  size_t count = sizeof wrongs / sizeof *wrongs;
  assert_true(count >= 40);
  for (size_t i = 0; i < count; i++) {
    struct run run = run_new();
    assert_null(yaml_read(run.arena, run_source(&run, slice_of(wrongs[i].bytes)), &run.problems));
    assert_string_equal(run_said(&run), wrongs[i].said);
    run_free(&run);
  }
}

static void nul_is_refused(void **state)
{
  (void)state;
  struct run run = run_new();
  assert_null(yaml_read(run.arena, run_source(&run, (struct slice){"a: x\0y\n", 7}), &run.problems));
  assert_string_equal(run_said(&run), arena_print(run.arena,
                                                  "1:5 '%.*s' a NUL byte: this is not a text file, or not saved "
                                                  "as UTF-8 | save the file as UTF-8 text",
                                                  0, ""));
  run_free(&run);
}

static const struct node *read_good(struct run *run, const char *bytes)
{
  const struct node *root = yaml_read(run->arena, run_source(run, slice_of(bytes)), &run->problems);
  if (root == NULL)
    fail_msg("%s", run_said(run));
  return root;
}

static void assert_text(const struct node *node, const char *text)
{
  assert_non_null(node);
  assert_int_equal(node->kind, NODE_SCALAR);
  assert_int_equal(node->text.size, strlen(text));
  assert_memory_equal(node->text.at, text, strlen(text));
}

static void assert_spans(const char *bytes, struct place place, const char *marked)
{
  assert_int_equal(place.end - place.start, strlen(marked));
  assert_memory_equal(bytes + place.start, marked, strlen(marked));
}

static void tree_holds_what_was_written(void **state)
{
  (void)state;
  struct run run = run_new();
  const char bytes[] = "a: plain text # note\nb: [1, 'it''s', \"\\u00e4\\n\"]\nc:\n  d: {}\n  e: []\n  f:\n"
                       "g: |\n  x\n   y\n\nh: >-\n  p\n  q\n\"i j\": ~no\n";
  const struct node *root = read_good(&run, bytes);
  assert_int_equal(root->kind, NODE_MAP);
  assert_int_equal(root->count, 6);
  assert_text(node_get(root, "a"), "plain text");
  const struct node *b = node_get(root, "b");
  assert_int_equal(b->kind, NODE_LIST);
  assert_int_equal(b->count, 3);
  assert_false(b->items[0].quoted);
  assert_text(&b->items[1], "it's");
  assert_true(b->items[1].quoted);
  assert_text(&b->items[2], "\xc3\xa4\n");
  const struct node *c = node_get(root, "c");
  assert_int_equal(node_get(c, "d")->kind, NODE_MAP);
  assert_int_equal(node_get(c, "d")->count, 0);
  assert_int_equal(node_get(c, "e")->kind, NODE_LIST);
  assert_text(node_get(c, "f"), "");
  assert_text(node_get(root, "g"), "x\n y\n");
  assert_true(node_get(root, "g")->block);
  assert_text(node_get(root, "h"), "p q");
  assert_text(node_get(root, "i j"), "~no");
  assert_null(node_get(root, "j"));
  assert_null(node_get(b, "a"));
  assert_null(node_get(NULL, "a"));
  assert_null(node_key(root, "j"));
  assert_string_equal(node_kind_name(root), "a map");
  assert_string_equal(node_kind_name(b), "a list");
  assert_string_equal(node_kind_name(&b->items[0]), "a text");
  run_free(&run);
}

static void places_are_the_bytes_of_the_text(void **state)
{
  (void)state;
  struct run run = run_new();
  const char *bytes =
      "\xef\xbb\xbf\xc3\xa4: [ 10 deg , \"\xe2\x82\xac\" ]\r\nb:\r\n  c: {d: 'x', e: 2}\r\n  f: |\r\n    t\r\n"
      "    u\r\n\r\ng:\r\nh: [ ]\r\n";
  const struct node *root = read_good(&run, bytes);
  assert_spans(bytes, node_key(root, "\xc3\xa4")->place, "\xc3\xa4");
  const struct node *list = node_get(root, "\xc3\xa4");
  assert_spans(bytes, list->items[0].place, "10 deg");
  assert_spans(bytes, list->items[1].place, "\"\xe2\x82\xac\"");
  assert_spans(bytes, list->place, "10 deg , \"\xe2\x82\xac\"");
  const struct node *b = node_get(root, "b");
  assert_spans(bytes, node_get(b, "c")->place, "d: 'x', e: 2");
  assert_spans(bytes, node_get(b, "f")->place, "|\r\n    t\r\n    u");
  assert_spans(bytes, node_get(root, "g")->place, "");
  assert_int_equal(node_get(root, "g")->place.start, strstr(bytes, "g:") + 2 - bytes);
  assert_spans(bytes, node_get(root, "h")->place, "[ ]");
  assert_int_equal(root->place.start, 3);
  run_free(&run);
}

struct part { /* decoded bytes and the raw ones that they come from */
  const char *bytes, *text, *raw;
};

static const struct part parts[] = {
    {"a: one two three\n", "two", "two"},
    {"a: one\n  two\n\n  three\n", "two", "two"},
    {"a: one\n  two\n\n  three\n", "three", "three"},
    {"a: 'it''s here'\n", "here", "here"},
    {"a: 'it''s here'\n", "'", "''"},
    {"a: 'one\n\n\n  two'\n", "two", "two"},
    {"a: \"\\u00e4\\x41 \\\"b\\\" c\"\n", "c", "c"},
    {"a: \"\\u00e4\\x41 \\\"b\\\" c\"\n", "A", "\\x41"},
    {"a: \"\\u00e4\\x41 \\\"b\\\" c\"\n", "\"b\"", "\\\"b\\\""},
    {"a: \"one \\\n    two  \n  three\"\n", "two", "two"},
    {"a: \"one \\\n    two  \n  three\"\n", "three", "three"},
    {"a: \"one\r\n\r\n  two\"\r\n", "two", "two"},
    {"a: |\n  one\n    two = 3\n\n  four\n", "two", "two"},
    {"a: |\n  one\n    two = 3\n\n  four\n", "= 3", "= 3"},
    {"a: |\n  one\n    two = 3\n\n  four\n", "four", "four"},
    {"a: |2- # note one\r\n   one\r\n  two\r\n", "one", "one"},
    {"a: |2- # note one\r\n   one\r\n  two\r\n", "two", "two"},
    {"a: >\n  one\n  two\n\n  three\n", "two", "two"},
    {"a: >\n  one\n  two\n\n  three\n", "three", "three"},
    {"a: \xc3\xa4\xc3\xb6 x\n", "x", "x"},
};

static void parts_of_a_scalar_are_found_in_the_file(void **state)
{
  (void)state;
  size_t count = sizeof parts / sizeof *parts;
  assert_true(count > 0);
  for (size_t i = 0; i < count; i++) {
    struct run run = run_new();
    const struct source *source = run_source(&run, slice_of(parts[i].bytes));
    const struct node *root = yaml_read(run.arena, source, &run.problems);
    const struct node *scalar = node_get(root, "a");
    assert_non_null(scalar);
    const char *found = strstr(scalar->text.at, parts[i].text);
    assert_non_null(found);
    size_t from = (size_t)(found - scalar->text.at);
    struct place place = node_place(source, scalar, from, from + strlen(parts[i].text));
    assert_spans(parts[i].bytes, place, parts[i].raw);
    run_free(&run);
  }
}

/* Every part of every scalar stays within it, whatever is asked. */
static void parts_stay_within_the_scalar(void **state)
{
  (void)state;
  for (size_t i = 0; i < sizeof parts / sizeof *parts; i++) {
    struct run run = run_new();
    const struct source *source = run_source(&run, slice_of(parts[i].bytes));
    const struct node *scalar = node_get(yaml_read(run.arena, source, &run.problems), "a");
    assert_non_null(scalar);
    for (size_t from = 0; from <= scalar->text.size + 2; from++) {
      for (size_t to = from; to <= scalar->text.size + 2; to++) {
        struct place place = node_place(source, scalar, from, to);
        assert_true(scalar->place.start <= place.start && place.start <= place.end && place.end <= scalar->place.end);
      }
    }
    run_free(&run);
  }
}

/* A document of `depth` lists, one in the other. */
static const char *nested(struct run *run, size_t depth)
{
  char *bytes = arena_alloc(run->arena, 2 * depth + 1);
  memset(bytes, '[', depth);
  memset(bytes + depth, ']', depth);
  return bytes;
}

static void depth_is_limited(void **state)
{
  (void)state;
  struct run run = run_new();
  read_good(&run, nested(&run, LIMIT_YAML_DEPTH));
  assert_null(yaml_read(run.arena, run_source(&run, slice_of(nested(&run, LIMIT_YAML_DEPTH + 1))), &run.problems));
  assert_string_equal(run_said(&run), "1:25 '[' more than 24 lists and maps within each other | -");
  run_free(&run);
}

static void scalars_are_limited(void **state)
{
  (void)state;
  struct run run = run_new();
  char *bytes = arena_alloc(run.arena, LIMIT_YAML_SCALAR + 8);
  memcpy(bytes, "a: ", 3);
  memset(bytes + 3, 'x', LIMIT_YAML_SCALAR);
  assert_int_equal(node_get(read_good(&run, bytes), "a")->text.size, LIMIT_YAML_SCALAR);
  bytes[3 + LIMIT_YAML_SCALAR] = 'x';
  assert_null(yaml_read(run.arena, run_source(&run, slice_of(bytes)), &run.problems));
  assert_string_equal(run_said(&run), "1:4 'x' this text is 65537 bytes long; at most 65536 are accepted | -");
  run_free(&run);
}

/* One list and `count - 1` numbers in it. */
static struct slice many(struct run *run, size_t count)
{
  char *bytes = arena_alloc(run->arena, 2 * count + 1);
  for (size_t i = 0; i < count; i++) {
    bytes[2 * i] = i == 0 ? '[' : '1';
    bytes[2 * i + 1] = i == 0 ? ' ' : i + 1 < count ? ',' : ']';
  }
  return (struct slice){bytes, 2 * count};
}

static void nodes_are_limited(void **state)
{
  (void)state;
  struct run run = run_new();
  assert_non_null(yaml_read(run.arena, run_source(&run, many(&run, LIMIT_YAML_NODES)), &run.problems));
  assert_null(yaml_read(run.arena, run_source(&run, many(&run, LIMIT_YAML_NODES + 1)), &run.problems));
  assert_int_equal(run.problems.count, 1);
  assert_string_equal(run.problems.items[0].message, "the file holds more than 1000000 values");
  run_free(&run);
}

/* Time is not measured: quadratic work on these would take minutes, and whoever runs the tests would notice. */
static void hostile_inputs_end_soon(void **state)
{
  (void)state;
  static const char *const repeated[] = {"[",        "{a: ", "- ", "? ",  "k: 1\n", "%TAG !a! tag:x\n",
                                         "- &a x\n", "\"",   ":",  "a: ["};
  size_t count = sizeof repeated / sizeof *repeated;
  assert_true(count > 0);
  for (size_t i = 0; i < count; i++) {
    struct run run = run_new();
    size_t piece = strlen(repeated[i]), size = 1024 * 1024 / piece * piece;
    char *bytes = arena_alloc(run.arena, size + 1);
    for (size_t at = 0; at < size; at += piece)
      memcpy(bytes + at, repeated[i], piece);
    assert_null(yaml_read(run.arena, run_source(&run, (struct slice){bytes, size}), &run.problems));
    assert_true(run.problems.count > 0);
    run_free(&run);
  }
}

static void many_names_are_compared_quickly(void **state)
{
  (void)state;
  struct run run = run_new();
  size_t count = 100000, used = 0;
  char *bytes = arena_alloc(run.arena, count * 16 + 16);
  for (size_t i = 0; i < count; i++)
    used += (size_t)snprintf(bytes + used, 16, "n%zu: 1\n", i);
  read_good(&run, bytes);
  snprintf(bytes + used, 16, "n7: 1\n");
  assert_null(yaml_read(run.arena, run_source(&run, slice_of(bytes)), &run.problems));
  assert_string_equal(run_said(&run), "100001:1 'n7' 'n7' is here a second time | the first one is in line 8");
  run_free(&run);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(wrong_inputs_say_why),
      cmocka_unit_test(nul_is_refused),
      cmocka_unit_test(tree_holds_what_was_written),
      cmocka_unit_test(places_are_the_bytes_of_the_text),
      cmocka_unit_test(parts_of_a_scalar_are_found_in_the_file),
      cmocka_unit_test(parts_stay_within_the_scalar),
      cmocka_unit_test(depth_is_limited),
      cmocka_unit_test(scalars_are_limited),
      cmocka_unit_test(nodes_are_limited),
      cmocka_unit_test(hostile_inputs_end_soon),
      cmocka_unit_test(many_names_are_compared_quickly),
  };
  return cmocka_run_group_tests_name("text/yaml", tests, NULL, NULL);
}
