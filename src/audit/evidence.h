/* Where a finding shows: places in the file and in the engine. Private to audit/. */
#ifndef KEYWAY_AUDIT_EVIDENCE_H
#define KEYWAY_AUDIT_EVIDENCE_H

#include "audit/judge.h"

struct evidence_list {
  struct evidence *items;
  size_t count, capacity;
};

/* One for each place of an item of `each`; measured and excess are copied into all of them. */
void evidence_of_item(const struct judge *judge, const struct item *item, const struct evidence *measured,
                      struct evidence_list *list);

/* For a rule without `each`: the entries named by `places`, else those that `flag` names. */
void evidence_of_names(const struct judge *judge, const struct check *check, const struct evidence *measured,
                       struct evidence_list *list);

#endif
