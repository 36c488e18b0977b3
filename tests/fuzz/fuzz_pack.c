/* Any bytes as a rule pack: read, checked, compiled, run on the subject when they can be. */
#include "cli/embedded.h"
#include "fuzz.h"

static void fuzz_one(struct fuzz *fuzz, const struct source *source)
{
  struct slice bytes = {(const char *)embedded_cautions.bytes, embedded_cautions.size};
  const struct source *cautions = sources_memory(fuzz->sources, embedded_cautions.name, bytes);
  const struct names *names = audit_names(fuzz->arena, fuzz->library.vocabulary);
  fuzz->problems.of = PROBLEM_OF_PACK;
  const struct packs *packs = packs_read(fuzz->arena, names, cautions, &source, 1, &fuzz->problems);
  if (packs != NULL)
    fuzz_audit(fuzz, packs);
}
