/* The text of a piece, and its rows once they are packed. Private to read/ (log_piece*.c). */
#ifndef KEYWAY_READ_LOG_PIECE_ROOM_H
#define KEYWAY_READ_LOG_PIECE_ROOM_H

#include "read/log_piece.h"

/* Read behind a piece at once: the rest of its last row. */
#define LOG_PIECE_MARGIN ((size_t)4096)

/* Reads on until the text holds `size` bytes; less at the end of the log. The text may move. */
void log_piece_load(struct log_piece *piece, size_t size);
/* As much again; false at the end of the log. */
bool log_piece_load_more(struct log_piece *piece);

/* Packs the rows taken so far. */
void log_piece_pack(struct log_piece *piece);

#endif
