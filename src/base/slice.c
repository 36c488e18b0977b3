/* Comparing and trimming borrowed text, and the edit distance behind every "did you mean". */
#include "base/slice.h"

#define DISTANCE_CUT 64

int slice_compare(struct slice a, struct slice b)
{
  size_t common = a.size < b.size ? a.size : b.size;
  int order = common == 0 ? 0 : memcmp(a.at, b.at, common);
  if (order != 0)
    return order;
  return (a.size > b.size) - (a.size < b.size);
}

static bool is_blank(char c)
{
  return c == ' ' || c == '\t';
}

struct slice slice_trim(struct slice s)
{
  while (s.size > 0 && is_blank(s.at[0]))
    s = slice_part(s, 1, s.size);
  while (s.size > 0 && is_blank(s.at[s.size - 1]))
    s.size--;
  return s;
}

static char fold(char c)
{
  if (c >= 'A' && c <= 'Z')
    return (char)(c - 'A' + 'a');
  return c == '-' || c == ' ' || c == '.' ? '_' : c;
}

static size_t least(size_t a, size_t b)
{
  return a < b ? a : b;
}

/* Optimal string alignment: the restricted Damerau-Levenshtein distance, three rows at a time. */
size_t slice_distance(struct slice a, struct slice b)
{
  size_t rows[3][DISTANCE_CUT + 1];
  size_t *before = rows[0], *above = rows[1], *row = rows[2];
  a.size = least(a.size, DISTANCE_CUT);
  b.size = least(b.size, DISTANCE_CUT);
  for (size_t j = 0; j <= b.size; j++)
    above[j] = before[j] = j;
  for (size_t i = 1; i <= a.size; i++) {
    row[0] = i;
    for (size_t j = 1; j <= b.size; j++) {
      char x = fold(a.at[i - 1]), y = fold(b.at[j - 1]);
      size_t best = least(above[j] + 1, row[j - 1] + 1);
      best = least(best, above[j - 1] + (x != y));
      if (i > 1 && j > 1 && x == fold(b.at[j - 2]) && y == fold(a.at[i - 2]))
        best = least(best, before[j - 2] + 1);
      row[j] = best;
    }
    size_t *free_row = before;
    before = above;
    above = row;
    row = free_row;
  }
  return above[b.size];
}
