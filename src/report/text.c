/* The text report: made to be read in a shop, on a terminal or on paper. Most severe first, one paragraph a finding,
 * then each caution once, then what was and was not checked, and why the program exits as it does. Reading order:
 * report_text at the end names the parts in the order of the page. */
#include "report/page.h"

#include "report/escape.h"
#include "report/wrap.h"

#include <string.h>

const char *page_color(const struct page *page, const char *word)
{
  static const struct {
    const char *word, *code;
  } codes[] = {{"STOP", "\x1b[1;31m"},    {"DANGER", "\x1b[1;31m"}, {"FIX", "\x1b[1;33m"},
               {"WARNING", "\x1b[1;33m"}, {"CHECK", "\x1b[1;36m"},  {"CAUTION", "\x1b[1;36m"}};
  if (!page->color)
    return "";
  for (size_t i = 0; i < sizeof codes / sizeof codes[0]; i++) {
    if (strcmp(codes[i].word, word) == 0)
      return codes[i].code;
  }
  return "\x1b[1m";
}

const char *page_plain(const struct page *page)
{
  return page->color ? "\x1b[0m" : "";
}

void page_heading(const struct page *page, const char *text)
{
  fprintf(page->out, "\n%s%s%s\n", page->color ? "\x1b[1m" : "", text, page_plain(page));
}

void page_labelled(const struct page *page, unsigned first, const char *label, const char *text)
{
  if (text != NULL && text[0] != '\0')
    wrap_print(page->out, page->width, first, first + 2, label, text);
}

const char *page_name(const struct page *page, const char *name)
{
  static const struct {
    const char *scope, *words;
  } scopes[] = {{"tune.", "setting "}, {"log.", "log channel "}, {"job.", "job sheet entry "}};
  for (size_t i = 0; i < sizeof scopes / sizeof scopes[0]; i++) {
    size_t size = strlen(scopes[i].scope);
    if (strncmp(name, scopes[i].scope, size) == 0)
      return arena_print(page->arena, "%s%s", scopes[i].words, name + size);
  }
  return name;
}

static const char *stage_words(const char *stage)
{
  static const char *const words[STAGE_COUNT] = {"the car has just come in", "about to be loaded", "about to leave"};
  enum stage found;
  return stage_find(slice_of(stage), &found) ? words[found] : "";
}

/* A pack or an input could not be read, so there is nothing but problems to report. */
static bool is_refused(const struct outcome *outcome)
{
  return outcome->exit == 2 || outcome->exit == 3;
}

static void head_print(const struct page *page)
{
  const struct outcome *outcome = page->outcome;
  const char *title = outcome->title != NULL ? outcome->title : "Settings without a title";
  if (is_refused(outcome))
    title = "Not audited";
  fputs(page->color ? "\x1b[1m" : "", page->out);
  wrap_print(page->out, page->width, 0, 0, "", title);
  fputs(page_plain(page), page->out);
  size_t logs = 0;
  for (size_t i = 0; i < outcome->input_count; i++) {
    const struct outcome_input *input = &outcome->inputs[i];
    const char *about = input->about != NULL ? arena_print(page->arena, " (%s)", input->about) : "";
    const char *role = input->about != NULL ? arena_print(page->arena, "%s %zu", input->role, ++logs) : input->role;
    fprintf(page->out, "%-9s %s%s\n", role, escape_line(page->arena, input->name), about);
  }
  if (outcome->stage != NULL)
    fprintf(page->out, "%-9s %s: %s\n", "stage", outcome->stage, stage_words(outcome->stage));
}

/* "3 findings: 1 stop, 2 fix." */
static void summary_print(const struct page *page)
{
  const struct outcome *outcome = page->outcome;
  size_t of[SEVERITY_COUNT] = {0};
  for (size_t i = 0; i < outcome->finding_count; i++)
    of[outcome->findings[i].severity]++;
  if (outcome->finding_count == 0) {
    bool decided = outcome->verdicts[VERDICT_CLEAR] + outcome->verdicts[VERDICT_FLAGGED] > 0;
    fputs(decided ? "\nNo findings among the rules that could be decided.\n" : "\nNo rule could be decided.\n",
          page->out);
    return;
  }
  fprintf(page->out, "\n%zu finding%s:", outcome->finding_count, outcome->finding_count == 1 ? "" : "s");
  const char *mark = "";
  for (int i = SEVERITY_COUNT - 1; i > SEVERITY_NONE; i--) {
    if (of[i] == 0)
      continue;
    fprintf(page->out, "%s %zu %s", mark, of[i], severity_name((enum severity)i));
    mark = ",";
  }
  fputs(".\n", page->out);
}

static void caution_print(const struct page *page, const struct caution *caution)
{
  fprintf(page->out, "%*s%s%s%s %s\n", PAGE_MARGIN, "", page_color(page, caution->word), caution->word,
          page_plain(page), caution->id);
  wrap_print(page->out, page->width, PAGE_MARGIN + 2, PAGE_MARGIN + 2, "", caution->text);
}

static void cautions_print(const struct page *page)
{
  const struct outcome *outcome = page->outcome;
  if (outcome->caution_count == 0)
    return;
  page_heading(page, "CAUTIONS");
  for (size_t i = 0; i < outcome->caution_count; i++)
    caution_print(page, &outcome->cautions[i]);
}

static void inapplicable_print(const struct page *page)
{
  const struct outcome *outcome = page->outcome;
  if (outcome->not_applicable_count == 0)
    return;
  page_heading(page, "DOES NOT APPLY");
  for (size_t i = 0; i < outcome->not_applicable_count; i++) {
    const struct not_applicable *rule = &outcome->not_applicable[i];
    const char *why = rule->why != NULL && rule->why[0] != '\0' ? rule->why : "nothing to judge";
    wrap_print(page->out, page->width, PAGE_MARGIN, PAGE_MARGIN + 2, "",
               arena_print(page->arena, "%s: %s", rule->rule, why));
  }
}

static void changed_print(const struct page *page)
{
  const struct outcome *outcome = page->outcome;
  if (outcome->changed_count == 0)
    return;
  page_heading(page, "LIMITS THAT ARE NOT THE USUAL ONES");
  for (size_t i = 0; i < outcome->changed_count; i++) {
    const struct changed_limit *changed = &outcome->changed[i];
    const char *value = quantity_print(page->arena, changed->value, NULL, 0.0);
    const char *usual = quantity_print(page->arena, changed->usual, NULL, 0.0);
    const char *reason = changed->reason != NULL && changed->reason[0] != '\0' ? changed->reason : "no reason given";
    const char *place = report_place(page->arena, page->sources, changed->place);
    wrap_print(page->out, page->width, PAGE_MARGIN, PAGE_MARGIN + 2, "",
               arena_print(page->arena, "%s: %s instead of %s, from the %s: %s%s%s%s", changed->name, value, usual,
                           changed->from, reason, place[0] != '\0' ? " (" : "", place, place[0] != '\0' ? ")" : ""));
  }
}

static void lines_print(const struct page *page, const char *heading, size_t count, const char *const *lines)
{
  if (count == 0)
    return;
  page_heading(page, heading);
  for (size_t i = 0; i < count; i++)
    wrap_print(page->out, page->width, PAGE_MARGIN, PAGE_MARGIN + 2, "", lines[i]);
}

static void clear_print(const struct page *page)
{
  const struct outcome *outcome = page->outcome;
  if (outcome->clear_count == 0)
    return;
  page_heading(page, "CHECKED AND CLEAR");
  struct wrap wrap;
  wrap_open(&wrap, page->out, page->width, PAGE_MARGIN, PAGE_MARGIN);
  for (size_t i = 0; i < outcome->clear_count; i++) {
    const char *mark = i + 1 < outcome->clear_count ? "," : "";
    wrap_add(&wrap, slice_of(arena_print(page->arena, "%s%s", outcome->clear[i], mark)));
  }
  wrap_close(&wrap);
}

static void counts_print(const struct page *page)
{
  const size_t *of = page->outcome->verdicts;
  if (is_refused(page->outcome)) {
    fputc('\n', page->out);
    return;
  }
  size_t all = of[VERDICT_FLAGGED] + of[VERDICT_CLEAR] + of[VERDICT_UNDECIDED] + of[VERDICT_NOT_APPLICABLE];
  fprintf(page->out, "\nOf %zu rule%s: %zu flagged, %zu clear, %zu undecided, %zu not applicable.\n", all,
          all == 1 ? "" : "s", of[VERDICT_FLAGGED], of[VERDICT_CLEAR], of[VERDICT_UNDECIDED],
          of[VERDICT_NOT_APPLICABLE]);
}

/* A report without that caution among its cautions still says it. */
static void practice_print(const struct page *page)
{
  for (size_t i = 0; i < page->outcome->caution_count; i++) {
    if (strcmp(page->outcome->cautions[i].id, "haz-practice") == 0)
      return;
  }
  wrap_print(page->out, page->width, 0, 0, "",
             "This report is a second look, not approval. Local law, the vehicle maker's procedures and the judgement "
             "of a qualified person on site come first.");
}

static void problems_print(const struct page *page)
{
  const struct problems *problems = page->outcome->problems;
  if (problems == NULL || problems->count + problems->dropped == 0)
    return;
  struct report_options options = {.color = page->color, .width = page->width};
  page_heading(page, "PROBLEMS: WHAT COULD NOT BE READ");
  report_problems(page->out, problems, page->sources, &options);
}

/* The findings that follow from `cause` (NULL: from none), each with those that follow from it right behind. */
static void findings_print(const struct page *page, const struct finding *cause)
{
  const struct outcome *outcome = page->outcome;
  for (size_t i = 0; i < outcome->finding_count; i++) {
    if (outcome->findings[i].cause != cause)
      continue;
    page_finding(page, &outcome->findings[i]);
    findings_print(page, &outcome->findings[i]);
  }
}

static void audited_print(const struct page *page)
{
  const struct outcome *outcome = page->outcome;
  summary_print(page);
  findings_print(page, NULL);
  cautions_print(page);
  page_unchecked(page);
  inapplicable_print(page);
  clear_print(page);
  changed_print(page);
  lines_print(page, "ABOUT THE LOG", outcome->note_count, outcome->notes);
  page_coverage(page);
  lines_print(page, "RULES REPLACED OR SILENCED", outcome->silenced_count, outcome->silenced);
}

bool report_text(FILE *out, const struct outcome *outcome, struct sources *sources,
                 const struct report_options *options)
{
  struct page page = {out, arena_new(), sources, outcome, options->color, options->width};
  page.width = page.width == 0 ? WRAP_WIDTH : page.width < WRAP_NARROWEST ? WRAP_NARROWEST : page.width;
  head_print(&page);
  if (!is_refused(outcome))
    audited_print(&page);
  problems_print(&page);
  counts_print(&page);
  practice_print(&page);
  fprintf(out, "%s\n", report_reason(page.arena, outcome));
  arena_free(page.arena);
  return true;
}
