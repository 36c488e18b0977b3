/* Any bytes as a data log, with a sample rate and without: read, summed up and audited when they can be, reported. */
#include "fuzz.h"

static void summary_report(struct fuzz *fuzz)
{
  struct report_options options = {.version = KEYWAY_VERSION};
  struct survey *survey = survey_read(fuzz->arena, fuzz->library.vocabulary, fuzz->subject.log, fuzz->sources);
  audit_phases(fuzz->arena, fuzz->library.packs, &fuzz->subject, 1, survey);
  struct report_log log = {.file = slice_of("input"), .survey = survey, .problems = &fuzz->problems};
  for (const struct report_format *format = report_formats; format->name != NULL; format++) {
    if (format->write_log != NULL)
      format->write_log(fuzz_nowhere(), &log, fuzz->sources, &options);
  }
}

static void fuzz_one(struct fuzz *fuzz, const struct source *source)
{
  struct log_options options = {.wanted = NULL, .rate = source->bytes.size % 2 == 0 ? 0 : 25};
  fuzz->subject.log = log_read(fuzz->arena, fuzz->library.vocabulary, source, &options, &fuzz->problems);
  if (fuzz->subject.log == NULL)
    return;
  summary_report(fuzz);
  fuzz_audit(fuzz, fuzz->library.packs);
}
