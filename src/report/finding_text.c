/* One finding in the text report: what, where, how far over, where else, why, what to do, how to prove it, when it is
 * meant to be so, what to mind. Reading order: page_finding at the end, then its paragraphs. */
#include "report/page.h"

#include "report/wrap.h"

#include <ctype.h>
#include <string.h>

#define PLACES_SHOWN 3 /* besides the first; the rest is a number, and whole in the JSON report */

static const char *print_at(const struct page *page, const struct evidence *evidence)
{
  return report_place(page->arena, page->sources, evidence->place);
}

/* STOP, FIX, CHECK, NOTE */
static const char *word_of(const struct page *page, enum severity severity)
{
  char *word = arena_text(page->arena, slice_of(severity_name(severity)));
  for (char *at = word; *at != '\0'; at++)
    *at = (char)toupper((unsigned char)*at);
  return word;
}

static void title_print(const struct page *page, const struct finding *finding)
{
  const char *word = word_of(page, finding->severity);
  struct wrap wrap;
  wrap_open(&wrap, page->out, page->width, 0, PAGE_INDENT);
  wrap_mark(&wrap, page_color(page, word));
  wrap_add(&wrap, slice_of(word));
  wrap_mark(&wrap, page_plain(page));
  wrap_to(&wrap, PAGE_INDENT);
  wrap_mark(&wrap, page->color ? "\x1b[1m" : "");
  wrap_add(&wrap, slice_of(finding->title));
  wrap_mark(&wrap, page_plain(page));
  wrap_add(&wrap, slice_of(arena_print(page->arena, "(%s)", finding->id)));
  wrap_close(&wrap);
}

static bool starts_with(const char *text, const char *with)
{
  return strncmp(text, with, strlen(with)) == 0;
}

/* Where in the engine; names of settings in words. Empty when it is no more than the subject. */
static const char *where_of(const struct page *page, const struct finding *finding, const struct evidence *evidence)
{
  if (evidence->text == NULL || strcmp(evidence->text, finding->subject) == 0)
    return "";
  return page_name(page, evidence->text);
}

/* "settings.yaml:41:7: setting fuel.warm_up_enrichment, 80 degC" */
static void place_print(const struct page *page, const struct finding *finding)
{
  const struct evidence *worst = finding->evidence_count > 0 ? &finding->evidence[0] : NULL;
  const char *at = worst != NULL ? print_at(page, worst) : "";
  const char *where = worst != NULL ? where_of(page, finding, worst) : "";
  const char *subject = starts_with(where, finding->subject) ? "" : page_name(page, finding->subject);
  const char *text = arena_print(page->arena, "%s%s%s%s%s", at, at[0] != '\0' ? ": " : "", subject,
                                 where[0] != '\0' && subject[0] != '\0' ? ", " : "", where);
  wrap_print(page->out, page->width, PAGE_INDENT, PAGE_INDENT, "", text);
}

/* Left out when the message says both already and the limit is the usual one. */
static void measure_print(const struct page *page, const struct finding *finding)
{
  const char *measured = finding->has_measured ? quantity_print(page->arena, finding->measured, NULL, 0.0) : NULL;
  const char *limit = finding->has_limit ? quantity_print(page->arena, finding->limit, NULL, 0.0) : NULL;
  const char *from = limit != NULL ? finding->limit_from : NULL;
  bool usual = from == NULL || strstr(from, "job sheet") == NULL;
  bool said = (measured == NULL || strstr(finding->message, measured) != NULL) &&
              (limit == NULL || strstr(finding->message, limit) != NULL);
  if ((measured == NULL && limit == NULL) || (said && usual))
    return;
  const char *text = measured != NULL ? arena_print(page->arena, "Measured %s", measured) : "";
  if (limit != NULL)
    text = arena_print(page->arena, "%s%s %s", text, measured != NULL ? ", limit" : "Limit", limit);
  if (from != NULL)
    text = arena_print(page->arena, "%s (%s)", text, from);
  wrap_print(page->out, page->width, PAGE_INDENT, PAGE_INDENT, "", arena_print(page->arena, "%s.", text));
}

/* "41:12 (90 degC, 104 %)", with the file's name when it is another one than the first place's. */
static const char *other_place(const struct page *page, const struct finding *finding, const struct evidence *evidence)
{
  const struct evidence *first = &finding->evidence[0];
  const char *at = print_at(page, evidence);
  struct position position;
  if (evidence->place.source == first->place.source && sources_position(page->sources, evidence->place, &position))
    at = arena_print(page->arena, "%llu:%llu", (unsigned long long)position.line, (unsigned long long)position.column);
  const char *text = where_of(page, finding, evidence);
  const char *value = evidence->has_value ? quantity_print(page->arena, evidence->value, NULL, 0.0) : "";
  if (text[0] == '\0' && value[0] == '\0')
    return at;
  const char *open = at[0] != '\0' ? " (" : "", *close = at[0] != '\0' ? ")" : "";
  return arena_print(page->arena, "%s%s%s%s%s%s", at, open, text, text[0] != '\0' && value[0] != '\0' ? ": " : "",
                     value, close);
}

static void others_print(const struct page *page, const struct finding *finding)
{
  if (finding->evidence_count < 2)
    return;
  struct wrap wrap;
  wrap_open(&wrap, page->out, page->width, PAGE_INDENT, PAGE_INDENT);
  wrap_add(&wrap, slice_of("Also at"));
  size_t others = finding->evidence_count - 1;
  size_t shown = others <= PLACES_SHOWN ? others : PLACES_SHOWN;
  for (size_t i = 1; i <= shown; i++) {
    const char *place = other_place(page, finding, &finding->evidence[i]);
    const char *mark = i < shown ? ";" : others > shown ? "" : ".";
    wrap_add(&wrap, slice_of(arena_print(page->arena, "%s%s", place, mark)));
  }
  if (others > shown)
    wrap_add(&wrap, slice_of(arena_print(page->arena, "and %zu more place%s.", others - shown,
                                         others - shown == 1 ? "" : "s")));
  wrap_close(&wrap);
}

static const char *signal_word(const struct outcome *outcome, const char *id)
{
  for (size_t i = 0; i < outcome->caution_count; i++) {
    if (strcmp(outcome->cautions[i].id, id) == 0)
      return outcome->cautions[i].word;
  }
  return "NOTICE";
}

static void cautions_print(const struct page *page, const struct finding *finding)
{
  const char *text = "";
  for (size_t i = 0; i < finding->caution_count; i++)
    text = arena_print(page->arena, "%s%s%s %s", text, i == 0 ? "" : "; ",
                       signal_word(page->outcome, finding->cautions[i]), finding->cautions[i]);
  if (finding->caution_count > 0)
    page_labelled(page, PAGE_INDENT, "Mind:", arena_print(page->arena, "%s (in full below)", text));
}

/* A finding of the same rule, which said all that about another subject; NULL: none. */
static const struct finding *said_above(const struct page *page, const struct finding *finding)
{
  for (const struct finding *above = page->outcome->findings; above < finding; above++) {
    if (strcmp(above->id, finding->id) == 0 && above->cause == finding->cause)
      return above;
  }
  return NULL;
}

void page_finding(const struct page *page, const struct finding *finding)
{
  fputc('\n', page->out);
  title_print(page, finding);
  place_print(page, finding);
  wrap_print(page->out, page->width, PAGE_INDENT, PAGE_INDENT, "", finding->message);
  if (finding->cause != NULL)
    page_labelled(page, PAGE_INDENT, "Follows from:",
                  arena_print(page->arena, "%s (%s), above. Mend that first, then look again.", finding->cause->title,
                              finding->cause->id));
  measure_print(page, finding);
  others_print(page, finding);
  const struct finding *above = said_above(page, finding);
  if (above != NULL && strcmp(above->act, finding->act) == 0) {
    page_labelled(page, PAGE_INDENT, "Why, what to do, how to prove it:", "as said above under the same rule.");
  } else if (above != NULL) {
    page_labelled(page, PAGE_INDENT, "Do:", finding->act);
    page_labelled(page, PAGE_INDENT, "Why, how to prove it:", "as said above under the same rule.");
  } else {
    page_labelled(page, PAGE_INDENT, "Why:", finding->why);
    page_labelled(page, PAGE_INDENT, "Do:", finding->act);
    page_labelled(page, PAGE_INDENT, "Prove it by hand:", finding->verify);
    page_labelled(page, PAGE_INDENT, "Meant to be so when:", finding->by_design);
    page_labelled(page, PAGE_INDENT, "Basis:", finding->basis);
  }
  cautions_print(page, finding);
}
