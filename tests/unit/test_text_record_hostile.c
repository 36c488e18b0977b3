/* text/record.h under attack: files made to take time or memory, or to reach other files, are refused with a place or
 * read; limits at the value and one past it. Each takes under two seconds; the test only asks for 30, because valgrind
 * makes twenty of one. The kinds of attack are those of the OWASP XML Security Cheat Sheet and of CWE-400, 611, 674 and
 * 776. */
#include "records.h"

#include <time.h>

#define SECONDS_MOST 30.0

struct hostile {
  enum record_shape shape;
  const char *head, *unit; /* the unit as often as it takes to fill the size */
  size_t size;             /* of all of it; 0: head and tail alone */
  const char *tail;
  uint64_t line, column; /* where it is refused; 0: it is read */
  const char *message;   /* or how its message begins */
  size_t records;        /* when it is read */
};

/* As large as an export may be, and enough for more pieces than it may hold. */
#define ALL LIMIT_EXPORT_BYTES
#define MANY (9 * 1024 * 1024)
#define LONG (1024 * 1024)

static struct slice made(struct arena *arena, const struct hostile *hostile)
{
  size_t head = strlen(hostile->head), unit = strlen(hostile->unit), tail = strlen(hostile->tail);
  size_t times = hostile->size > head + tail ? (hostile->size - head - tail) / unit : 0;
  char *bytes = arena_alloc(arena, head + times * unit + tail), *to = bytes;
  memcpy(to, hostile->head, head);
  to += head;
  for (size_t i = 0; i < times; i++, to += unit)
    memcpy(to, hostile->unit, unit);
  memcpy(to, hostile->tail, tail);
  return (struct slice){bytes, head + times * unit + tail};
}

static void attack(const struct hostile *hostile)
{
  struct run run = run_new();
  struct record_style style = record_style_usual(run.arena, hostile->shape);
  struct source *source = records_source(&run, made(run.arena, hostile));
  struct record_list list;
  clock_t start = clock();
  bool read = record_decode(run.arena, source, ENCODING_AUTO, &run.problems) &&
              record_read(run.arena, source, &style, &run.problems, &list);
  assert_true((double)(clock() - start) / CLOCKS_PER_SEC < SECONDS_MOST);
  assert_int_equal(read, hostile->line == 0);
  if (read) {
    assert_int_equal(list.count, hostile->records);
    records_check(source, &list);
  } else {
    struct position position;
    assert_int_equal(run.problems.count, 1);
    assert_true(sources_position(run.sources, run.problems.items[0].place, &position));
    assert_memory_equal(run.problems.items[0].message, hostile->message, strlen(hostile->message));
    assert_int_equal(position.line, hostile->line);
    assert_int_equal(position.column, hostile->column);
  }
  run_free(&run);
}

static void attack_all(const struct hostile *items, size_t count)
{
  assert_true(count > 0);
  for (size_t i = 0; i < count; i++)
    attack(&items[i]);
}

#define ATTACK_ALL(items) attack_all((items), sizeof(items) / sizeof *(items))

static void entities_are_never_expanded(void **state)
{
  (void)state;
  static const char own[] = "a document type with declarations of its own is not accepted";
  static const char other[] = "a document type that is defined elsewhere is not accepted";
  static const struct hostile items[] = {
      /* a billion laughs; a quadratic blow-up; a file; a remote file; a parameter entity; defaults of attributes */
      {SHAPE_XML,
       "<?xml version='1.0'?>\n<!DOCTYPE x [<!ENTITY a 'ha'><!ENTITY b '&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;'><!ENTITY c "
       "'&b;&b;&b;&b;&b;&b;&b;&b;&b;&b;'><!ENTITY d '&c;&c;&c;&c;&c;&c;&c;&c;&c;&c;'>]>",
       "x", 0, "<x>&d;</x>", 2, 1, own, 0},
      {SHAPE_XML, "<!DOCTYPE x [<!ENTITY a '", "aaaaaaaa", 1000000, "'>]><x>&a;&a;&a;</x>", 1, 1, own, 0},
      {SHAPE_XML, "<!DOCTYPE x [<!ENTITY a SYSTEM 'file:///etc/passwd'>]><x>", "&a;", 1000, "</x>", 1, 1, own, 0},
      {SHAPE_XML, "<!-- <!DOCTYPE -->\n <!DOCTYPE x PUBLIC '-//X//EN' 'http://example.invalid/x.dtd'><x>", "&a;", 1000,
       "</x>", 2, 2, other, 0},
      {SHAPE_XML, "<!DOCTYPE x SYSTEM '/dev/zero'><x>", "1", 40, "</x>", 1, 1, other, 0},
      {SHAPE_XML, "<!DOCTYPE x [<!ENTITY % a SYSTEM 'file:///dev/random'> %a;]><x>", "1", 0, "</x>", 1, 1, own, 0},
      {SHAPE_XML, "<!DOCTYPE x [<!ATTLIST x ", "a CDATA '1' ", 1000, ">]><x/>", 1, 1, own, 0},
      {SHAPE_XML, "<x>", "1", 40, "&a;</x>", 1, 34, "an entity that nothing defines", 0},
      /* a bare one says nothing */
      {SHAPE_XML, "<!DOCTYPE x><x>", "1", 40, "</x>", 0, 0, NULL, 1},
  };
  ATTACK_ALL(items);
}

static void nesting_ends(void **state)
{
  (void)state;
  static const struct hostile items[] = {
      {SHAPE_XML, "", "<a>", ALL, "", 1, 193, "elements are nested too deeply here", 0},
      {SHAPE_JSON, "", "[", LONG, "", 1, 25, "lists and objects are nested too deeply here", 0},
      {SHAPE_JSON, "", "{\"a\":", ALL, "", 1, 121, "lists and objects are nested too deeply here", 0},
      {SHAPE_YAML, "a: ", "[", LONG, "", 1, 27, "", 0},
      {SHAPE_YAML, "", "- ", 8 * 1024, "", 1, 49, "", 0},
  };
  ATTACK_ALL(items);
}

static void long_pieces_are_refused(void **state)
{
  (void)state;
  static const struct hostile items[] = {
      {SHAPE_LINES, "", "x", ALL, "", 1, 1, "this text is 33554432 bytes long", 0},
      {SHAPE_LINES, "a=1\nb = ", "x", LONG, "", 2, 5, "this text is", 0},
      {SHAPE_LINES, "a=1\n", "x", LONG, "=1\n", 2, 1, "the path to this value is", 0},
      {SHAPE_LINES, "", "# x\n", LONG, "", 0, 0, NULL, 0},
      {SHAPE_TABLE, "a,1\nb,\"", "x\n", ALL, "", 2, 3, "this quote is never closed", 0},
      {SHAPE_TABLE, "a,1\nb,\"", "x\n", LONG, "\"", 2, 4, "this text is", 0},
      {SHAPE_TABLE, "", "\"", ALL, "xx", 1, 33554431, "a delimiter or the end of the line is expected", 0},
      {SHAPE_XML, "<a>", "x", LONG, "</a>", 1, 4, "this text is over 65536 bytes long", 0},
      {SHAPE_XML, "<a>", "x<b/>", LONG, "</a>", 1, 4, "this text is over 65536 bytes long", 0},
      {SHAPE_XML, "<a b='", "x", ALL, "'/>", 1, 7, "this text is", 0},
      {SHAPE_XML, "<", "x", LONG, ">1</x>", 1, 1, "the path to this value is", 0},
      {SHAPE_XML, "<a><!-- ", "-x", LONG, "", 1, 4, "what starts here is never closed", 0},
      {SHAPE_XML, "<a>", " \n", LONG, "</a>", 0, 0, NULL, 0},
      {SHAPE_JSON, "[\"", "x", ALL, "\"]", 1, 3, "this text is", 0},
      {SHAPE_JSON, "[\"", "x", LONG, "", 1, 2, "this quote is not closed on its line", 0},
      {SHAPE_JSON, "{\"", "x", LONG, "\":1}", 1, LONG - 1, "the path to this value is", 0},
  };
  ATTACK_ALL(items);
}

static void many_pieces_are_refused(void **state)
{
  (void)state;
  static const struct hostile items[] = {
      {SHAPE_LINES, "", "a=1\n", MANY, "", 1000001, 1, "the file holds more than 1000000 rows", 0},
      {SHAPE_LINES, "", "[a]\n", MANY, "", 1000001, 1, "the file holds more than 1000000 rows", 0},
      {SHAPE_TABLE, "a", ",1", MANY, "", 1, 2000001, "a row holds more than 1000000 cells", 0},
      {SHAPE_TABLE, "", ",", MANY, "", 1, 1000001, "a row holds more than 1000000 cells", 0},
      {SHAPE_TABLE, "", "a,1,2,3\n", MANY, "", 333334, 5, "the file holds more than 1000000 values", 0},
      {SHAPE_TABLE, "", "a\n", MANY, "", 1000001, 1, "the file holds more than 1000000 rows", 0},
      {SHAPE_XML, "<a>", "<b/>", MANY, "</a>", 1, 4000000, "the file holds more than 1000000 rows or elements", 0},
      {SHAPE_XML, "<a ", "b='' ", MANY, "/>", 1, 1, "an element with over 10000 attributes", 0},
      {SHAPE_XML, "<a><![CDATA[<!--]]><?b <!-- ?><c ", "b='' ", MANY, "/></a>", 1, 31, "an element with over", 0},
      {SHAPE_JSON, "[", "1,", MANY, "1]", 1, 2000000, "the file holds too many values", 0},
      {SHAPE_JSON, "{", "\"a\":1,", MANY, "}", 1, 6000000, "the file holds too many values", 0},
      {SHAPE_YAML, "", "- 1\n", MANY, "", 1000000, 3, "", 0},
  };
  ATTACK_ALL(items);
}

/* A name of 60 KB over a million short values would give paths of 60 GB. */
static void long_names_are_not_multiplied(void **state)
{
  (void)state;
  struct run run = run_new();
  char *name = arena_alloc(run.arena, 60001);
  for (size_t i = 0; i < 60000; i++)
    name[i] = 'n';
  const struct {
    enum record_shape shape;
    const char *head, *unit, *tail;
    uint64_t line, column;
  } items[] = {
      {SHAPE_LINES, "[%s]\n", "a=1\n", "", 4474, 1},    {SHAPE_TABLE, "%s\n", "a,1\n", "", 2238, 1},
      {SHAPE_XML, "<%s>", "<b>1</b>", "", 1, 95779},    {SHAPE_XML, "<%s>", "<b c='1'/>", "", 1, 82363},
      {SHAPE_JSON, "{\"%s\":[", "1,", "1]}", 1, 68950},
  };
  for (size_t i = 0; i < sizeof items / sizeof *items; i++) {
    struct hostile hostile = {.shape = items[i].shape, .unit = items[i].unit, .size = LONG, .tail = items[i].tail};
    char *head = arena_alloc(run.arena, 60020);
    size_t at = (size_t)(strchr(items[i].head, '%') - items[i].head);
    memcpy(head, items[i].head, at);
    memcpy(head + at, name, 60000);
    memcpy(head + at + 60000, items[i].head + at + 2, strlen(items[i].head) - at - 2);
    hostile.head = head;
    hostile.message = "the paths of the file's values are over 256 MB together";
    hostile.line = items[i].line;
    hostile.column = items[i].column;
    attack(&hostile);
  }
  run_free(&run);
}

/* As many as are accepted, and one more. */
static void limits_hold_to_the_last_one(void **state)
{
  (void)state;
  static const struct hostile items[] = {
      {SHAPE_LINES, "", "a=1\n", 4 * LIMIT_RECORDS, "", 0, 0, NULL, LIMIT_RECORDS},
      {SHAPE_LINES, "", "a=1\n", 4 * LIMIT_RECORDS + 4, "", LIMIT_RECORDS + 1, 1, "the file holds more than", 0},
      {SHAPE_LINES, "a=", "x", LIMIT_RECORD_BYTES + 2, "", 0, 0, NULL, 1},
      {SHAPE_LINES, "a=", "x", LIMIT_RECORD_BYTES + 3, "", 1, 3, "this text is 65537 bytes long", 0},
      {SHAPE_LINES, "", "x", LIMIT_RECORD_BYTES + 2, "=1", 0, 0, NULL, 1},
      {SHAPE_LINES, "", "x", LIMIT_RECORD_BYTES + 3, "=1", 1, 1, "the path to this value is 65537 bytes long", 0},
      {SHAPE_TABLE, "a", ",1", 2 * LIMIT_RECORDS - 1, "", 0, 0, NULL, LIMIT_RECORDS - 1},
      {SHAPE_XML, "<a>", "x", LIMIT_RECORD_BYTES + 7, "</a>", 0, 0, NULL, 1},
      {SHAPE_XML, "<a>", "x", LIMIT_RECORD_BYTES + 8, "</a>", 1, 4, "this text is 65537 bytes long", 0},
      {SHAPE_LINES, "", "\n", LIMIT_EXPORT_BYTES, "", 0, 0, NULL, 0},
      {SHAPE_LINES, "", "\n", LIMIT_EXPORT_BYTES + 1, "", 1, 1, "the export is over 32 MB", 0},
  };
  ATTACK_ALL(items);
  for (size_t depth = LIMIT_RECORD_DEPTH; depth <= LIMIT_RECORD_DEPTH + 1; depth++) {
    struct run run = run_new();
    const char *text = "1";
    for (size_t i = 0; i < depth; i++)
      text = arena_print(run.arena, "<a>%s</a>", text);
    struct record_style style = record_style_usual(run.arena, SHAPE_XML);
    struct record_list list;
    bool read = record_read(run.arena, records_source(&run, slice_of(text)), &style, &run.problems, &list);
    assert_int_equal(read, depth == LIMIT_RECORD_DEPTH);
    run_free(&run);
  }
}

/* Texts in which nothing but quotes stands, and long ones in sections, are not taken for attributes. */
static void quotes_are_no_attributes(void **state)
{
  (void)state;
  static const struct hostile items[] = {
      {SHAPE_XML, "<a>", "\"", 65000, "</a>", 0, 0, NULL, 1},
      {SHAPE_XML, "<a><!-- ", "''\"", 1000000, "--><b>1</b></a>", 0, 0, NULL, 1},
      {SHAPE_XML, "<?x ", "''\"", 1000000, "?><b>1</b>", 0, 0, NULL, 1},
      {SHAPE_XML, "<a>", "<b c='1' d=\"2\"/>", 1000000, "</a>", 0, 0, NULL, 2 * ((1000000 - 7) / 16)},
  };
  ATTACK_ALL(items);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(entities_are_never_expanded),   cmocka_unit_test(nesting_ends),
      cmocka_unit_test(long_pieces_are_refused),       cmocka_unit_test(many_pieces_are_refused),
      cmocka_unit_test(long_names_are_not_multiplied), cmocka_unit_test(limits_hold_to_the_last_one),
      cmocka_unit_test(quotes_are_no_attributes),
  };
  return cmocka_run_group_tests_name("text/record: hostile files", tests, NULL, NULL);
}
