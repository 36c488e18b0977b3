/* Any bytes as a settings file: read, audited when they can be, reported. */
#include "fuzz.h"

static void fuzz_one(struct fuzz *fuzz, const struct source *source)
{
  fuzz->subject.settings = settings_read(fuzz->arena, fuzz->library.vocabulary, source, &fuzz->problems);
  if (fuzz->subject.settings != NULL)
    fuzz_audit(fuzz, fuzz->library.packs);
}
