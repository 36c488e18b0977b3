/* The parts of a text report. Private to report/. */
#ifndef KEYWAY_REPORT_PAGE_H
#define KEYWAY_REPORT_PAGE_H

#include "report/report.h"

/* One text report in the making. */
struct page {
  FILE *out;
  struct arena *arena; /* for this report only */
  struct sources *sources;
  const struct outcome *outcome;
  bool color;
  unsigned width;
};

#define PAGE_INDENT 7 /* columns before the text of a finding: the longest severity word and two blanks */
#define PAGE_MARGIN 2 /* columns before what stands under a heading */

/* Bold for a severity or signal word, "" without colour; page_plain ends it. */
const char *page_color(const struct page *page, const char *word);
const char *page_plain(const struct page *page);

/* A heading in capitals behind an empty line. */
void page_heading(const struct page *page, const char *text);

/* "label: text" as a paragraph, `first` columns in; nothing when text is NULL or empty. */
void page_labelled(const struct page *page, unsigned first, const char *label, const char *text);

/* "setting fuel.warm_up_enrichment", "log channel engine_speed", "job sheet entry timing_light", or the name itself. */
const char *page_name(const struct page *page, const char *name);

/* One finding, an element of the outcome's array: finding_text.c. */
void page_finding(const struct page *page, const struct finding *finding);

/* The map of a table: visits_text.c. */
void page_visits(const struct page *page, const struct survey_visits *visits);

/* What became of the records of an export: coverage.c. */
void page_coverage(const struct page *page);

/* What was not checked, and what would let it be: unchecked.c. */
void page_unchecked(const struct page *page);

#endif
