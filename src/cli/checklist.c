/* keyway checklist: the checks that no file can show, for one stage, on one page to print. Reading order: first the
 * data (checklist_read, item_read, checklist_asks), then checklist_command, checklist_make, page_write. */
#include "cli/checklist.h"

#include "base/limits.h"
#include "cli/adapters.h"
#include "cli/embedded.h"
#include "cli/output.h"
#include "read/job.h"
#include "report/escape.h"
#include "report/wrap.h"
#include "text/utf8.h"

#define SHOWN 40 /* of a text from an input, so that the page stays one page */

struct page {
  struct library library;
  const struct checklist *list;
  enum stage stage;
  const struct settings *settings; /* NULL: none given */
  const struct job *job;           /* NULL: none given */
  const char *title;               /* "" when there is none */
};

static const char *text_of(struct arena *arena, const struct node *map, const char *key)
{
  const struct node *node = node_get(map, key);
  return node != NULL && node->kind == NODE_SCALAR ? arena_text(arena, node->text) : NULL;
}

/* The texts of a list, each looked up; false when one is not known. */
static bool stages_read(const struct node *list, struct checklist_item *out)
{
  bool good = list != NULL && list->kind == NODE_LIST && list->count > 0;
  for (size_t i = 0; good && i < list->count; i++) {
    enum stage stage;
    good = stage_find(list->items[i].text, &stage);
    if (good)
      out->stages[stage] = true;
  }
  return good;
}

static bool cautions_read(struct arena *arena, const struct packs *packs, const struct node *list,
                          struct checklist_item *out)
{
  if (list == NULL || list->kind != NODE_LIST)
    return false;
  out->cautions = ARENA_ARRAY(arena, list->count, const char *);
  for (size_t i = 0; i < list->count; i++) {
    size_t known = 0;
    while (known < packs->caution_count && !slice_is(list->items[i].text, packs->cautions[known].id))
      known++;
    if (known == packs->caution_count)
      return false;
    out->cautions[out->caution_count++] = packs->cautions[known].id;
  }
  return true;
}

static bool settings_read(struct arena *arena, const struct vocabulary *vocabulary, const struct node *list,
                          struct checklist_item *out)
{
  if (list == NULL)
    return true;
  out->settings = ARENA_ARRAY(arena, list->count, const struct entry *);
  for (size_t i = 0; i < list->count; i++) {
    const struct entry *entry = vocabulary_find(vocabulary, SCOPE_TUNE, list->items[i].text);
    if (entry == NULL)
      return false;
    out->settings[out->setting_count++] = entry;
  }
  return list->kind == NODE_LIST && list->count > 0;
}

static bool item_read(struct arena *arena, const struct library *library, const struct node *node,
                      struct checklist_item *out)
{
  out->id = text_of(arena, node, "id");
  out->what = text_of(arena, node, "what");
  out->how = text_of(arena, node, "how");
  return out->id != NULL && out->what != NULL && out->how != NULL && stages_read(node_get(node, "stages"), out) &&
         cautions_read(arena, library->packs, node_get(node, "cautions"), out) &&
         settings_read(arena, library->vocabulary, node_get(node, "settings"), out);
}

const struct checklist *checklist_read(struct run *run, const struct library *library, struct problems *problems)
{
  struct arena *arena = run->arena;
  struct slice bytes = {(const char *)embedded_checklist.bytes, embedded_checklist.size};
  problems->of = PROBLEM_OF_PACK;
  const struct source *source = sources_frozen(run->sources, embedded_checklist.name, bytes);
  const struct node *checks = node_get(yaml_read(arena, source, problems), "checks");
  struct checklist *list = ARENA_NEW(arena, struct checklist);
  size_t held = checks != NULL && checks->kind == NODE_LIST ? checks->count : 0;
  if (held == 0)
    problems_add(problems, PLACE_NONE, "%s: a list 'checks:' is expected", embedded_checklist.name);
  list->items = ARENA_ARRAY(arena, held, struct checklist_item);
  for (size_t i = 0; i < held; i++) {
    if (!item_read(arena, library, &checks->items[i], &list->items[list->count++]))
      problems_add(problems, PLACE_NONE, "%s: check %zu needs an id, what, how, known stages, cautions and settings",
                   embedded_checklist.name, i + 1);
  }
  return problems_has(problems, PROBLEM_OF_PACK) ? NULL : list;
}

bool checklist_asks(const struct checklist_item *item, enum stage stage, const struct vocabulary *vocabulary,
                    const struct settings *settings)
{
  bool held = item->setting_count == 0 || settings == NULL;
  for (size_t i = 0; i < item->setting_count && !held; i++)
    held = settings->values[vocabulary_index(vocabulary, SCOPE_TUNE, item->settings[i])] != NULL;
  return item->stages[stage] && held;
}

/* "done", "yes" or a date; anything else is not done. Blanks, underlines and case do not matter in a name. */
static const struct hand_check *done_by(const struct job *job, const struct checklist_item *item)
{
  for (size_t i = 0; job != NULL && i < job->check_count; i++) {
    const struct hand_check *check = &job->checks[i];
    bool done = slice_distance(check->state, slice_of("done")) == 0 ||
                slice_distance(check->state, slice_of("yes")) == 0 ||
                (check->state.size > 0 && check->state.at[0] >= '0' && check->state.at[0] <= '9');
    if (done && (slice_distance(check->what, slice_of(item->what)) == 0 ||
                 slice_distance(check->what, slice_of(item->id)) == 0))
      return check;
  }
  return NULL;
}

static void item_write(struct arena *arena, FILE *out, const struct checklist_item *item,
                       const struct hand_check *check)
{
  struct wrap wrap;
  wrap_open(&wrap, out, WRAP_WIDTH, 0, 4);
  fprintf(out, "[%c] ", check != NULL ? 'x' : ' ');
  wrap.column = 4;
  wrap_add(&wrap, slice_of(item->what));
  for (size_t i = 0; i < item->caution_count; i++)
    wrap_add(&wrap, slice_of(arena_print(arena, "%s%s%s", i == 0 ? "(" : "", item->cautions[i],
                                         i + 1 < item->caution_count ? "," : ")")));
  if (check != NULL)
    wrap_add(&wrap, slice_of(check->state.at[0] >= '0' && check->state.at[0] <= '9' ? "done on" : ""));
  if (check != NULL)
    wrap_add(&wrap, utf8_cut(check->state, SHOWN));
  if (check != NULL && check->by.size > 0) {
    struct slice by = utf8_cut(check->by, SHOWN);
    wrap_add(&wrap, slice_of(arena_print(arena, "by %.*s", SLICE_ARG(by))));
  }
  wrap_close(&wrap);
  wrap_print(out, WRAP_WIDTH, 4, 4, "", item->how);
}

static bool is_used(const struct page *page, const struct caution_text *caution)
{
  for (size_t i = 0; i < page->list->count; i++) {
    const struct checklist_item *item = &page->list->items[i];
    for (size_t k = 0; k < item->caution_count; k++) {
      if (strcmp(item->cautions[k], caution->id) == 0 &&
          checklist_asks(item, page->stage, page->library.vocabulary, page->settings))
        return true;
    }
  }
  return strcmp(caution->id, "haz-practice") == 0;
}

static void page_write(struct arena *arena, FILE *out, const struct page *page)
{
  static const char *const when[STAGE_COUNT] = {"the car has just come in", "about to be loaded", "about to leave"};
  const struct packs *packs = page->library.packs;
  wrap_print(out, WRAP_WIDTH, 0, 4, "",
             arena_print(arena, "CHECKS BY HAND, stage %s: %s%s%s", stage_name(page->stage), when[page->stage],
                         page->title[0] != '\0' ? ". " : "", page->title));
  fputs("Car _____________________  Settings revision ____________  Date ____________  By ______\n\n", out);
  for (size_t i = 0; i < page->list->count; i++) {
    const struct checklist_item *item = &page->list->items[i];
    if (checklist_asks(item, page->stage, page->library.vocabulary, page->settings))
      item_write(arena, out, item, done_by(page->job, item));
  }
  fputc('\n', out);
  for (size_t i = 0; i < packs->caution_count; i++) {
    const struct caution_text *caution = &packs->cautions[i];
    if (is_used(page, caution))
      wrap_print(out, WRAP_WIDTH, 0, 2, arena_print(arena, "%s %s:", caution->word, caution->id), caution->text);
  }
}

static const char *title_of(struct arena *arena, const struct page *page)
{
  const struct vocabulary *vocabulary = page->library.vocabulary;
  if (page->settings == NULL)
    return page->job != NULL ? arena_text(arena, utf8_cut(page->job->title, SHOWN)) : "";
  const struct entry *entry = vocabulary_find(vocabulary, SCOPE_TUNE, slice_of("file.title"));
  const struct value *value =
      entry != NULL ? page->settings->values[vocabulary_index(vocabulary, SCOPE_TUNE, entry)] : NULL;
  return value != NULL && value->kind == VALUE_TEXT ? arena_text(arena, utf8_cut(value->as.text, SHOWN)) : "";
}

/* The settings file and the job sheet, as far as they are given; false when one is refused. */
static bool inputs_read(struct run *run, const struct line *line, struct page *page, const char **inputs, size_t *count,
                        struct problems *problems)
{
  const char *file = line_value(line, OPTION_FOR_SETTINGS), *job = line_value(line, OPTION_JOB);
  const char *adapter = line_value(line, OPTION_ADAPTER);
  const struct vocabulary *vocabulary = page->library.vocabulary;
  struct adapters adapters = {0};
  const struct source *source = NULL, *sheet = NULL;
  problems->of = PROBLEM_OF_INPUT;
  adapters_open(&adapters, run->sources, adapter, NULL, problems);
  if (file != NULL)
    source = sources_open(run->sources, inputs[(*count)++] = file,
                          adapter != NULL ? LIMIT_EXPORT_BYTES : LIMIT_YAML_BYTES, problems);
  if (job != NULL)
    sheet = sources_open(run->sources, inputs[(*count)++] = job, LIMIT_YAML_BYTES, problems);
  if (adapter != NULL)
    inputs[(*count)++] = adapter;
  sources_name(run->sources, NULL);
  adapters_read(&adapters, run->arena, vocabulary, problems);
  if (source != NULL)
    page->settings = adapters_settings(&adapters, run->arena, vocabulary, source, NULL, problems);
  if (sheet != NULL)
    page->job = job_read(run->arena, vocabulary, sheet, problems);
  adapters_free(&adapters);
  return !problems_has(problems, PROBLEM_OF_INPUT);
}

static enum status checklist_make(struct run *run, const struct line *line, struct page *page, bool has_stage,
                                  const struct output_request *output, struct problems *problems)
{
  struct outputs outputs;
  const char *inputs[3];
  size_t count = 0;
  struct request request = {.output_count = 1, .outputs = output};
  bool read = library_read(run->arena, run->sources, LIBRARY_LEAN, NULL, 0, &page->library, problems);
  if (read)
    page->list = checklist_read(run, &page->library, problems);
  if (page->list == NULL || !inputs_read(run, line, page, inputs, &count, problems))
    return command_refuse(run, problems);
  problems->of = PROBLEM_OF_USAGE;
  if (!outputs_open(run->arena, &request, inputs, count, &outputs, problems))
    return command_refuse(run, problems);
  if (!has_stage && page->job != NULL && page->job->has_stage)
    page->stage = page->job->stage;
  page->title = title_of(run->arena, page);
  page_write(run->arena, outputs.items[0].stream, page);
  const char *why = outputs_commit(run->arena, &outputs);
  if (why == NULL)
    return STATUS_CLEAN;
  fprintf(stderr, "keyway: %s\n", why);
  return STATUS_FAULT;
}

enum status checklist_command(struct run *run, const struct line *line)
{
  struct page page = {.stage = STAGE_LOOK};
  struct problems problems;
  size_t count = 0;
  problems_init(&problems, run->arena, PROBLEM_OF_USAGE);
  const char *const *files = line_values(run->arena, line, OPTION_OUTPUT, &count);
  const char *stage = line_value(line, OPTION_STAGE);
  if (stage != NULL && !stage_find(slice_of(stage), &page.stage))
    problems_add(&problems, PLACE_NONE, "'--stage' takes %s, not '%s'", line_options[OPTION_STAGE].argument, stage);
  if (line_value(line, OPTION_ADAPTER) != NULL && line_value(line, OPTION_FOR_SETTINGS) == NULL)
    problems_add(&problems, PLACE_NONE, "'--adapter' needs the '--for' that it reads");
  if (count > 1)
    problems_add(&problems, PLACE_NONE, "'--output' was given twice: '%s' and '%s'", files[0], files[1]);
  if (problems_has(&problems, PROBLEM_OF_USAGE))
    return command_refuse(run, &problems);
  struct output_request output = {.file = count > 0 && strcmp(files[0], "-") != 0 ? files[0] : NULL};
  return checklist_make(run, line, &page, stage != NULL, &output, &problems);
}
