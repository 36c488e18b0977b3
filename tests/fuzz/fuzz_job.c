/* Any bytes as a job sheet: read, audited when they can be, reported. */
#include "fuzz.h"

static void fuzz_one(struct fuzz *fuzz, const struct source *source)
{
  fuzz->subject.job = job_read(fuzz->arena, fuzz->library.vocabulary, source, &fuzz->problems);
  if (fuzz->subject.job != NULL && audit_check_job(fuzz->library.packs, fuzz->subject.job, &fuzz->problems))
    fuzz_audit(fuzz, fuzz->library.packs);
}
