/* Any bytes as a data log, with a sample rate and without: read, audited when they can be, reported. */
#include "fuzz.h"

static void fuzz_one(struct fuzz *fuzz, const struct source *source)
{
  struct log_options options = {.wanted = NULL, .rate = source->bytes.size % 2 == 0 ? 0 : 25};
  fuzz->subject.log = log_read(fuzz->arena, fuzz->library.vocabulary, source, &options, &fuzz->problems);
  if (fuzz->subject.log != NULL)
    fuzz_audit(fuzz, fuzz->library.packs);
}
