/* What could not be checked, grouped by the input that would let it be. Reading order: page_unchecked, then key_of: two
 * rules belong together when the same words would have to follow "With". */
#include "report/page.h"

#include "report/wrap.h"

#include <stdlib.h>
#include <string.h>

struct lack {
  const char *key;     /* "a data log (--log FILE)"; "" when only reasons in words are known */
  const char *reasons; /* in words; "" when there are none */
  const struct undecided *undecided;
  size_t order;
};

static bool input_given(const struct outcome *outcome, const char *role)
{
  for (size_t i = 0; i < outcome->input_count; i++) {
    if (strcmp(outcome->inputs[i].role, role) == 0)
      return true;
  }
  return false;
}

static bool starts_with(const char *text, const char *with)
{
  return strncmp(text, with, strlen(with)) == 0;
}

static bool is_name(const char *missing)
{
  return (starts_with(missing, "tune.") || starts_with(missing, "log.") || starts_with(missing, "job.")) &&
         strchr(missing, ' ') == NULL;
}

/* "a", "a and b", "a, b and c" */
static const char *join(struct arena *arena, const char *const *words, size_t count)
{
  const char *list = "";
  for (size_t i = 0; i < count; i++) {
    const char *mark = i == 0 ? "" : i + 1 == count ? " and " : ", ";
    list = arena_print(arena, "%s%s%s", list, mark, words[i]);
  }
  return list;
}

/* Whole inputs that were not given come first and stand for all the names that they would have held. */
static const char *key_of(const struct page *page, const struct undecided *undecided)
{
  const char **words = ARENA_ARRAY(page->arena, undecided->missing_count + 2, const char *);
  size_t count = 0;
  bool log = input_given(page->outcome, "log"), job = input_given(page->outcome, "job");
  bool no_log = false, no_job = false;
  for (size_t i = 0; i < undecided->missing_count; i++) {
    bool name = is_name(undecided->missing[i]);
    no_log = no_log || (name && !log && starts_with(undecided->missing[i], "log."));
    no_job = no_job || (name && !job && starts_with(undecided->missing[i], "job."));
  }
  if (no_log)
    words[count++] = "a data log (--log FILE)";
  if (no_job)
    words[count++] = "a job sheet (--job FILE)";
  for (size_t i = 0; i < undecided->missing_count; i++) {
    const char *missing = undecided->missing[i];
    bool covered = (no_log && starts_with(missing, "log.")) || (no_job && starts_with(missing, "job."));
    const char *lack = report_lack(page->outcome, missing);
    if (is_name(missing) && !covered)
      words[count++] =
          lack == NULL ? page_name(page, missing) : arena_print(page->arena, "%s (%s)", page_name(page, missing), lack);
  }
  return join(page->arena, words, count);
}

static const char *reasons_of(const struct page *page, const struct undecided *undecided)
{
  const char *reasons = "";
  for (size_t i = 0; i < undecided->missing_count; i++) {
    if (is_name(undecided->missing[i]))
      continue;
    const char *join_with = reasons[0] == '\0' ? "" : "; ";
    reasons = arena_print(page->arena, "%s%s%s", reasons, join_with, undecided->missing[i]);
  }
  return reasons;
}

/* Largest groups would be nicer first, but then one more rule would turn the list round: by words, whole inputs first.
 */
static int lack_compare(const void *left, const void *right)
{
  const struct lack *a = left, *b = right;
  if ((a->key[0] == '\0') != (b->key[0] == '\0'))
    return a->key[0] == '\0' ? 1 : -1;
  int order = strcmp(a->key, b->key);
  return order != 0 ? order : (a->order > b->order) - (a->order < b->order);
}

/* Rules with the same key on one line: "With a data log (--log FILE): 2 rules: a, b" */
static size_t group_print(const struct page *page, const struct lack *lacks, size_t count)
{
  size_t size = 1;
  while (size < count && strcmp(lacks[size].key, lacks[0].key) == 0)
    size++;
  if (lacks[0].key[0] != '\0') {
    struct wrap wrap;
    wrap_open(&wrap, page->out, page->width, PAGE_MARGIN, PAGE_MARGIN + 2);
    wrap_add(&wrap,
             slice_of(arena_print(page->arena, "With %s: %zu rule%s:", lacks[0].key, size, size == 1 ? "" : "s")));
    for (size_t i = 0; i < size; i++)
      wrap_add(&wrap, slice_of(arena_print(page->arena, "%s%s", lacks[i].undecided->rule, i + 1 < size ? "," : "")));
    wrap_close(&wrap);
  }
  for (size_t i = 0; i < size; i++) {
    const char *also = lacks[0].key[0] != '\0' && lacks[i].reasons[0] != '\0' ? " as well" : "";
    const char *reason = lacks[i].reasons[0] != '\0' ? lacks[i].reasons : "no reason was given";
    if (lacks[0].key[0] == '\0' || also[0] != '\0')
      wrap_print(page->out, page->width, PAGE_MARGIN, PAGE_MARGIN + 2, "",
                 arena_print(page->arena, "%s%s: %s", lacks[i].undecided->rule, also, reason));
  }
  return size;
}

void page_unchecked(const struct page *page)
{
  const struct outcome *outcome = page->outcome;
  size_t count = outcome->undecided_count;
  if (count == 0)
    return;
  page_heading(page, "COULD NOT BE CHECKED, AND WHAT WOULD LET IT BE");
  struct lack *lacks = ARENA_ARRAY(page->arena, count, struct lack);
  for (size_t i = 0; i < count; i++) {
    const struct undecided *undecided = &outcome->undecided[i];
    lacks[i] = (struct lack){key_of(page, undecided), reasons_of(page, undecided), undecided, i};
  }
  qsort(lacks, count, sizeof *lacks, lack_compare);
  for (size_t at = 0; at < count;)
    at += group_print(page, lacks + at, count - at);
}
