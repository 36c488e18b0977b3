/* What became of an export's records, and why it lacks a setting. */
#include "report/page.h"

#include "report/escape.h"
#include "report/wrap.h"

#include <string.h>

#define TEXT_SHOWN 60 /* bytes of a record's text */

const char *report_lack(const struct outcome *outcome, const char *missing)
{
  const struct coverage *coverage = outcome->coverage;
  if (coverage == NULL || strncmp(missing, "tune.", strlen("tune.")) != 0 || strchr(missing, ' ') != NULL)
    return NULL;
  for (size_t i = 0; i < coverage->no_entry_count; i++) {
    if (strcmp(coverage->no_entry[i], missing) == 0)
      return "the adapter has no entry for it";
  }
  return "nothing in the export matches its entry";
}

static void unused_print(const struct page *page, const struct unused_record *unused)
{
  struct slice text = unused->text;
  bool cut = text.size > TEXT_SHOWN;
  if (cut)
    text.size = TEXT_SHOWN;
  while (cut && text.size > 0 && ((unsigned char)unused->text.at[text.size] & 0xc0u) == 0x80u)
    text.size--;
  wrap_print(page->out, page->width, PAGE_MARGIN, PAGE_MARGIN + 2, "",
             arena_print(page->arena, "%s: %s = %s%s", report_place(page->arena, page->sources, unused->place),
                         escape_line(page->arena, unused->path), escape_line(page->arena, text), cut ? "..." : ""));
}

void page_coverage(const struct page *page)
{
  const struct coverage *coverage = page->outcome->coverage;
  if (coverage == NULL)
    return;
  size_t all = coverage->used + coverage->ignored + coverage->unknown;
  const char *more = coverage->unknown > 0 && coverage->unused == NULL ? " (--unused lists them)" : "";
  page_heading(page, "ABOUT THE EXPORT");
  wrap_print(page->out, page->width, PAGE_MARGIN, PAGE_MARGIN + 2, "",
             arena_print(page->arena, "Of %zu record%s the adapter uses %zu, ignores %zu and does not know %zu%s%s",
                         all, all == 1 ? "" : "s", coverage->used, coverage->ignored, coverage->unknown, more,
                         coverage->unused != NULL && coverage->unknown > 0 ? ":" : "."));
  for (size_t i = 0; coverage->unused != NULL && i < coverage->unknown; i++)
    unused_print(page, &coverage->unused[i]);
}
