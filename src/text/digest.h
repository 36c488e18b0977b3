/* SHA-256 (FIPS 180-4) of bytes, through libnettle. Included by cli/. The only user of nettle is text/digest.c.
 * Thread-safe. */
#ifndef KEYWAY_TEXT_DIGEST_H
#define KEYWAY_TEXT_DIGEST_H

#include "base/slice.h"

/* 64 lower-case hex digits and a NUL. */
void digest_sha256(struct slice bytes, char out[65]);

#endif
