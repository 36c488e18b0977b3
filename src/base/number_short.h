/* Short decimals, eight digits at a time: what nearly all cells of a log are. Any room may include this. Thread-safe. */
#ifndef KEYWAY_BASE_NUMBER_SHORT_H
#define KEYWAY_BASE_NUMBER_SHORT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { NUMBER_SHORT_PAD = 16 }; /* readable bytes that must stand before a short number */

/* The first byte lowest, on any machine; compilers make one load of it. */
static inline uint64_t number_word(const char *text)
{
  const unsigned char *at = (const unsigned char *)text;
  return (uint64_t)at[0] | (uint64_t)at[1] << 8 | (uint64_t)at[2] << 16 | (uint64_t)at[3] << 24 | (uint64_t)at[4] << 32 |
         (uint64_t)at[5] << 40 | (uint64_t)at[6] << 48 | (uint64_t)at[7] << 56;
}

/* Eight digits, the lowest byte first: pairs, fours, eights. */
static inline uint64_t number_eight(uint64_t digits)
{
  digits = digits * 10 + (digits >> 8);
  return ((digits & 0x000000ff000000ffu) * 0x000f424000000064u +
          ((digits >> 16 & 0x000000ff000000ffu) * 0x0000271000000001u)) >>
         32;
}

/* Top bit of each byte that is zero. */
static inline uint64_t number_zero_bytes(uint64_t x)
{
  const uint64_t lows = 0x7f7f7f7f7f7f7f7fu;
  return ~(((x & lows) + lows) | x | lows);
}

/* [-] digits [point digits], 16 characters at most behind the sign and nothing else, below 2^53: value = *mantissa /
 * 10^*decimals. false: another number, or none; number_read knows. `point` '\0': no point is taken. */
static inline bool number_short(const char *from, const char *to, char point, int64_t *mantissa, uint8_t *decimals)
{
  const uint64_t zeros = 0x3030303030303030u, ones = 0x0101010101010101u, tops = 0x8080808080808080u;
  bool minus = from < to && *from == '-';
  size_t size = (size_t)(to - from) - minus;
  if (size - 1 > 15)
    return false;
  uint64_t low = number_word(to - 8) ^ zeros, high = 0;
  if (size < 8) {
    low = low >> (64 - 8 * size) << (64 - 8 * size);
  } else if (size > 8) {
    high = number_word(to - 16) ^ zeros;
    high = high >> (128 - 8 * size) << (128 - 8 * size);
  }
  uint64_t sign = ones * (unsigned char)(point ^ '0');
  uint64_t in_low = number_zero_bytes(low ^ sign), in_high = number_zero_bytes(high ^ sign);
  size_t behind = 0;
  if ((in_low | in_high) != 0) {
    uint64_t *word = in_low != 0 ? &low : &high, bit = in_low != 0 ? in_low : in_high;
    bit &= ~bit + 1;
    /* The digits before the point move up by one. */
    uint64_t after = *word & ~((bit << 1) - 1), before = *word & ((bit >> 7) - 1);
    behind = (size_t)__builtin_clzll(bit) / 8 + (in_low != 0 ? 0 : 8);
    *word = after | before << 8;
    if (in_low != 0) {
      low |= high >> 56;
      high <<= 8;
    }
    if (size == 1)
      return false;
  }
  const uint64_t above_nine = 0x7676767676767676u;
  if ((((low + above_nine) | low | (high + above_nine) | high) & tops) != 0)
    return false;
  uint64_t value = number_eight(low);
  if (high != 0)
    value += number_eight(high) * 100000000u;
  if (value > (uint64_t)1 << 53)
    return false;
  *mantissa = minus ? -(int64_t)value : (int64_t)value;
  *decimals = (uint8_t)behind;
  return true;
}

#endif
