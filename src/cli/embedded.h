/* The files under rules/ as built into the program (build/embedded.c, written by rules/embed.sh): vocabulary and packs
 * compiled (base/image.h); dictionary, cautions, checklist and packs as frozen trees (text/frozen.h); whole packs as
 * text. */
#ifndef KEYWAY_CLI_EMBEDDED_H
#define KEYWAY_CLI_EMBEDDED_H

#include <stddef.h>

struct embedded_file {
  const char *name; /* "rules/ignition.yaml" */
  const unsigned char *bytes;
  size_t size;
};

extern const struct embedded_file embedded_image; /* vocabulary_image, then packs_image */
extern const struct embedded_file embedded_dictionary, embedded_cautions, embedded_checklist;
/* Packs in order of name, without their cases, so that an audit does not pay for reading them. */
extern const struct embedded_file embedded_packs[];
extern const size_t embedded_pack_count;
/* The same packs whole, for prove and explain. */
extern const struct embedded_file embedded_whole_packs[];

#endif
