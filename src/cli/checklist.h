/* The checks that no file can show (rules/checklist.yaml), and keyway checklist, which prints them. Included by cli/.
 */
#ifndef KEYWAY_CLI_CHECKLIST_H
#define KEYWAY_CLI_CHECKLIST_H

#include "cli/command.h"
#include "cli/library.h"
#include "model/subject.h"

struct checklist_item {
  const char *id, *what, *how;
  bool stages[STAGE_COUNT];
  size_t caution_count;
  const char **cautions; /* ids */
  size_t setting_count;
  const struct entry **settings; /* without any of these in the file there is nothing to check; none: always */
};

struct checklist {
  size_t count;
  struct checklist_item *items; /* in the order in which they are done */
};

/* NULL when it is refused: problems of pack are added. */
const struct checklist *checklist_read(struct run *run, const struct library *library, struct problems *problems);

/* Whether an item is asked for; `settings` may be NULL. */
bool checklist_asks(const struct checklist_item *item, enum stage stage, const struct vocabulary *vocabulary,
                    const struct settings *settings);

enum status checklist_command(struct run *run, const struct line *line);

#endif
