/* keyway convert: an export, or a settings file, to a settings file; with --records the export's records alone. Reading
 * order: convert_command, convert, write_settings, write_records. */
#include "base/limits.h"
#include "cli/adapters.h"
#include "cli/command.h"
#include "cli/library.h"
#include "cli/output.h"
#include "read/settings_write.h"
#include "report/escape.h"
#include "report/report.h"

struct conversion {
  struct run *run;
  const char *input, *adapter, *root;
  bool records, unused;
  struct request request; /* of the output alone */
  const struct vocabulary *vocabulary;
  const struct source *source;
  struct adapters adapters;
};

static bool read_line(const struct line *line, struct conversion *out, struct problems *problems)
{
  struct arena *arena = out->run->arena;
  size_t count = 0;
  const char *const *outputs = line_values(arena, line, OPTION_OUTPUT, &count);
  struct output_request *output = ARENA_NEW(arena, struct output_request);
  out->input = line->arguments[0];
  out->adapter = line_value(line, OPTION_ADAPTER);
  out->root = line_value(line, OPTION_ROOT);
  out->records = line_value(line, OPTION_RECORDS) != NULL;
  out->unused = line_value(line, OPTION_UNUSED) != NULL;
  if (count > 0 && strcmp(outputs[0], "-") != 0)
    output->file = outputs[0];
  out->request.output_count = 1;
  out->request.outputs = output;
  if (count > 1)
    problems_add(problems, PLACE_NONE, "'--output' was given twice: '%s' and '%s'", outputs[0], outputs[1]);
  if (out->unused && out->adapter == NULL)
    problems_add(problems, PLACE_NONE, "'--unused' needs the '--adapter' that leaves records unused");
  if (out->unused && out->records)
    problems_add(problems, PLACE_NONE, "'--unused' and '--records' do not go together");
  if (out->adapter != NULL && strcmp(out->adapter, "-") == 0 && strcmp(out->input, "-") == 0)
    problems_add(problems, PLACE_NONE, "'-', standard input, was given for 2 inputs; it can be read once");
  return !problems_has(problems, PROBLEM_OF_USAGE);
}

/* Place, path, text: one line, and nothing in it that a terminal would obey. */
static void write_record(FILE *out, struct sources *sources, const struct record_line *record)
{
  struct arena *scratch = arena_new();
  fprintf(out, "%s\t%s\t%s\n", report_place(scratch, sources, record->place), escape_line(scratch, record->path),
          escape_line(scratch, record->text));
  arena_free(scratch);
}

static bool write_records(struct conversion *conversion, FILE *out, struct problems *problems)
{
  const struct adapters *adapters = &conversion->adapters;
  struct record_list records;
  if ((adapters->for_settings && adapters->settings == NULL) ||
      !adapter_records(conversion->run->arena, adapters->settings, (struct source *)conversion->source, problems,
                       &records))
    return false;
  for (size_t i = 0; i < records.count; i++)
    write_record(out, conversion->run->sources, &records.items[i]);
  return true;
}

static bool write_settings(struct conversion *conversion, FILE *out, struct problems *problems)
{
  struct run *run = conversion->run;
  struct adapter_use use = {0};
  const struct settings *settings =
      adapters_settings(&conversion->adapters, run->arena, conversion->vocabulary, conversion->source, &use, problems);
  if (settings == NULL || problems_has(problems, PROBLEM_OF_INPUT))
    return false;
  settings_write(out, conversion->vocabulary, settings);
  for (size_t i = 0; conversion->unused && i < use.unknown; i++)
    write_record(stderr, run->sources, use.unknown_records[i]);
  return true;
}

/* Nothing is put in its place unless all of it could be made. */
static enum status convert(struct conversion *conversion, struct problems *problems)
{
  struct run *run = conversion->run;
  const char *inputs[] = {conversion->input, conversion->adapter};
  struct outputs outputs;
  struct problems usage;
  problems_init(&usage, run->arena, PROBLEM_OF_USAGE);
  if (!outputs_open(run->arena, &conversion->request, inputs, conversion->adapter != NULL ? 2 : 1, &outputs, &usage))
    return command_refuse(run, &usage);
  adapters_read(&conversion->adapters, run->arena, conversion->vocabulary, problems);
  FILE *out = outputs.items[0].stream;
  bool done =
      conversion->source != NULL && !problems_has(problems, PROBLEM_OF_INPUT) &&
      (conversion->records ? write_records(conversion, out, problems) : write_settings(conversion, out, problems));
  adapters_free(&conversion->adapters);
  if (!done) {
    outputs_drop(&outputs);
    enum status status = command_refuse(run, problems);
    if (conversion->source != NULL && conversion->adapter == NULL && !conversion->records)
      fputs("keyway: without '--adapter' only Keyway's own settings files are converted\n", stderr);
    return status;
  }
  const char *why = outputs_commit(run->arena, &outputs);
  if (why == NULL)
    return STATUS_CLEAN;
  fprintf(stderr, "keyway: %s\n", why);
  return STATUS_FAULT;
}

enum status convert_command(struct run *run, const struct line *line)
{
  struct conversion conversion = {.run = run};
  struct problems problems;
  problems_init(&problems, run->arena, PROBLEM_OF_USAGE);
  if (!read_line(line, &conversion, &problems))
    return command_refuse(run, &problems);
  problems.of = PROBLEM_OF_PACK;
  conversion.vocabulary = library_vocabulary(run->arena, run->sources, &problems);
  if (conversion.vocabulary == NULL)
    return command_refuse(run, &problems);
  problems.of = PROBLEM_OF_INPUT;
  bool ours = conversion.adapter == NULL && !conversion.records;
  conversion.source =
      sources_open(run->sources, conversion.input, ours ? LIMIT_YAML_BYTES : LIMIT_EXPORT_BYTES, &problems);
  adapters_open(&conversion.adapters, run->sources, conversion.adapter, NULL, &problems);
  sources_name(run->sources, conversion.root);
  return convert(&conversion, &problems);
}
