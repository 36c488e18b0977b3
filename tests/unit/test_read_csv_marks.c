/* Separators and line ends against a plain look at each byte, for every way of finding them that this processor has. */
#include "read/csv_marks.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define SIZE_MOST 700

struct room {
  char *text;
  struct csv_marks marks;
};

static int room_open(void **state)
{
  struct room *room = calloc(1, sizeof *room);
  if (room == NULL)
    return -1;
  room->text = calloc(1, SIZE_MOST + CSV_MARKS_PAD);
  room->marks.ends = calloc(SIZE_MOST, sizeof(uint32_t));
  room->marks.lines = calloc(SIZE_MOST, sizeof(uint32_t));
  room->marks.odd = calloc(SIZE_MOST, sizeof(bool));
  *state = room;
  return room->text != NULL && room->marks.ends != NULL && room->marks.lines != NULL && room->marks.odd != NULL ? 0
                                                                                                                : -1;
}

static int room_close(void **state)
{
  struct room *room = *state;
  free(room->text);
  free(room->marks.ends);
  free(room->marks.lines);
  free(room->marks.odd);
  free(room);
  return 0;
}

/* Repeatable numbers (Numerical Recipes' 64-bit linear congruence). */
static uint32_t chance(uint64_t *seed, uint32_t below)
{
  *seed = *seed * 6364136223846793005ull + 1442695040888963407ull;
  return (uint32_t)((*seed >> 33) % below);
}

static bool is_odd(const char *text, size_t at, char separator)
{
  unsigned char c = (unsigned char)text[at];
  if (c == (unsigned char)separator || c == '\n' || c == '\t' || (c == '\r' && text[at + 1] == '\n'))
    return false;
  return c < 0x20 || c == '"';
}

static void expect_marks(const struct room *room, size_t size, char separator)
{
  const struct csv_marks *marks = &room->marks;
  size_t ends = 0, lines = 0;
  bool odd = false;
  for (size_t i = 0; i < size; i++) {
    odd = odd || is_odd(room->text, i, separator);
    if (room->text[i] != separator && room->text[i] != '\n')
      continue;
    assert_int_equal(marks->ends[ends++], i);
    if (room->text[i] != '\n')
      continue;
    assert_true(lines < marks->line_count);
    assert_int_equal(marks->lines[lines], ends);
    assert_int_equal(marks->odd[lines++], odd);
    odd = false;
  }
  assert_int_equal(marks->line_count, lines);
}

static void test_marks(void **state)
{
  struct room *room = *state;
  uint64_t seed = 6;
  size_t odd = 0, lines = 0;
  for (int run = 0; run < 4000; run++) {
    static const char usual[] = "0123456789.-,;\t\n", rare[] = "\r\"\001\037 \177\200\377\0x";
    size_t size = chance(&seed, SIZE_MOST) + 1;
    uint32_t rarely = chance(&seed, 60) + 2;
    for (size_t i = 0; i < SIZE_MOST; i++) {
      bool is_rare = chance(&seed, rarely) == 0;
      room->text[i] = is_rare ? rare[chance(&seed, sizeof rare - 1)] : usual[chance(&seed, sizeof usual - 1)];
    }
    for (size_t i = 0; i + 1 < SIZE_MOST; i++) {
      if (chance(&seed, 30) == 0)
        memcpy(room->text + i, "\r\n", 2);
    }
    char separator = ",;\t"[chance(&seed, 3)];
    const struct csv_marker *marker;
    for (size_t n = 0; (marker = csv_marker_nth(n)) != NULL; n++) {
      csv_marks_find(marker, room->text, size, separator, &room->marks);
      expect_marks(room, size, separator);
    }
    lines += room->marks.line_count;
    for (size_t i = 0; i < room->marks.line_count; i++)
      odd += room->marks.odd[i];
  }
  assert_true(lines > 10000);
  assert_true(odd > 1000 && lines - odd > 1000);
}

static void test_markers(void **state)
{
  (void)state;
  size_t count = 0;
  while (csv_marker_nth(count) != NULL)
    count++;
  assert_true(count > 0);
  assert_true(csv_marker_best() == csv_marker_nth(count - 1));
}

int main(void)
{
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_marks), cmocka_unit_test(test_markers)};
  return cmocka_run_group_tests_name("read_csv_marks", tests, room_open, room_close);
}
