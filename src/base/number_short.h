/* Short decimals, eight digits at a time: what nearly all cells of a log are. Any room may include this. Thread-safe.
 */
#ifndef KEYWAY_BASE_NUMBER_SHORT_H
#define KEYWAY_BASE_NUMBER_SHORT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

enum { NUMBER_SHORT_PAD = 16 }; /* readable bytes that must stand before a short number */

/* The first byte lowest, on any machine. */
static inline uint64_t number_word(const char *text)
{
#if defined(__BYTE_ORDER__) && __BYTE_ORDER__ == __ORDER_LITTLE_ENDIAN__
  uint64_t word;
  memcpy(&word, text, sizeof word);
  return word;
#else
  uint64_t word = 0;
  for (int i = 7; i >= 0; i--)
    word = word << 8 | (unsigned char)text[i];
  return word;
#endif
}

/* Eight digits, the lowest byte first: pairs, fours, eights. */
static inline uint64_t number_eight(uint64_t digits)
{
  digits = digits * 10 + (digits >> 8);
  return ((digits & 0x000000ff000000ffu) * 0x000f424000000064u +
          ((digits >> 16 & 0x000000ff000000ffu) * 0x0000271000000001u)) >>
         32;
}

#define NUMBER_ONES 0x0101010101010101u
#define NUMBER_TOPS 0x8080808080808080u
#define NUMBER_ZEROS 0x3030303030303030u

/* The top bit of the lowest byte that is `c`; 0: there is none. */
static inline uint64_t number_find(uint64_t word, char c)
{
  uint64_t x = word ^ NUMBER_ONES * (unsigned char)c, found = (x - NUMBER_ONES) & ~x & NUMBER_TOPS;
  return found & (~found + 1);
}

static inline bool number_all_digits(uint64_t digits)
{
  return (((digits + 0x7676767676767676u) | digits) & NUMBER_TOPS) == 0;
}

/* Takes the byte at `bit` out; those before it move up by one. */
static inline uint64_t number_without(uint64_t word, uint64_t bit)
{
  return (word & ~((bit << 1) - 1)) | (word & ((bit >> 7) - 1)) << 8;
}

/* Nine to sixteen characters. */
static inline bool number_short_long(const char *to, size_t size, char point, uint64_t *value, uint8_t *decimals)
{
  uint64_t low = number_word(to - 8) ^ NUMBER_ZEROS, high = number_word(to - 16) ^ NUMBER_ZEROS;
  high = high >> (128 - 8 * size) << (128 - 8 * size);
  uint64_t in_low = number_find(low, point), in_high = number_find(high, point);
  *decimals = 0;
  if (in_low != 0) {
    low = number_without(low, in_low) | high >> 56;
    high <<= 8;
    *decimals = (uint8_t)(__builtin_clzll(in_low) / 8);
  } else if (in_high != 0) {
    high = number_without(high, in_high);
    *decimals = (uint8_t)(__builtin_clzll(in_high) / 8 + 8);
  }
  if (!number_all_digits(low) || !number_all_digits(high))
    return false;
  *value = number_eight(low) + number_eight(high) * 100000000u;
  return *value <= (uint64_t)1 << 53;
}

/* [-] digits [point digits], 16 characters at most behind the sign and nothing else, up to 2^53: value = *mantissa /
 * 10^*decimals. false: another number, or none; number_read knows. `point` '\0': no point is taken. */
static inline bool number_short(const char *from, const char *to, char point, int64_t *mantissa, uint8_t *decimals)
{
  bool minus = from < to && *from == '-';
  size_t size = (size_t)(to - from) - minus;
  uint64_t value;
  if (size - 1 > 15)
    return false;
  point = (char)(point ^ '0');
  if (size > 8) {
    if (!number_short_long(to, size, point, &value, decimals))
      return false;
  } else {
    uint64_t word = number_word(to - 8) ^ NUMBER_ZEROS;
    word = word >> (64 - 8 * size) << (64 - 8 * size);
    uint64_t bit = number_find(word, point);
    *decimals = 0;
    if (bit != 0) {
      word = number_without(word, bit);
      *decimals = (uint8_t)(__builtin_clzll(bit) / 8);
      if (size == 1)
        return false;
    }
    if (!number_all_digits(word))
      return false;
    value = number_eight(word);
  }
  *mantissa = minus ? -(int64_t)value : (int64_t)value;
  return true;
}

#endif
