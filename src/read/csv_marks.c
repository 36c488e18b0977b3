/* Separators and line ends, many bytes at a time. Reading order: csv_marks_find; one of the ways to mark, which differ
 * only in how many bytes they compare at once; then list, which makes offsets of bits. */
#include "read/csv_marks.h"

#if defined(__x86_64__)
#include <immintrin.h>
#elif defined(__aarch64__)
#include <arm_neon.h>
#endif

struct csv_marker {
  /* `blocks` times 64 bytes; the byte behind them is looked at too. */
  void (*mark)(const char *text, size_t blocks, char separator, struct csv_bits *bits);
  void (*list)(struct csv_marks *marks, size_t blocks);
};

/* What a block's masks come to. CR is odd unless LF follows; a tab separates or is plain. */
static void settle(struct csv_bits *bits, size_t i, uint64_t separators, uint64_t lines, uint64_t returns,
                   uint64_t others, bool line_follows)
{
  bits->ends[i] = separators | lines;
  bits->lines[i] = lines;
  bits->odd[i] = (others | (returns & ~(lines >> 1 | (uint64_t)line_follows << 63))) & ~separators;
}

static inline unsigned lowest_bit(uint64_t bits)
{
  return (unsigned)__builtin_ctzll(bits);
}

/* The lines that end in a block; those before it have `before` ends. */
static inline void list_lines(struct csv_marks *marks, size_t block, size_t before, bool *odd)
{
  uint64_t ends = marks->bits.ends[block], rest = marks->bits.odd[block];
  for (uint64_t lines = marks->bits.lines[block]; lines != 0; lines &= lines - 1) {
    uint64_t up_to = lines ^ (lines - 1);
    marks->lines[marks->line_count] = (uint32_t)(before + (size_t)__builtin_popcountll(ends & up_to));
    marks->odd[marks->line_count++] = *odd || (rest & up_to) != 0;
    *odd = false;
    rest &= ~up_to;
  }
  *odd = *odd || rest != 0;
}

static inline __attribute__((always_inline)) void list_all(struct csv_marks *marks, size_t blocks)
{
  const struct csv_bits *bits = &marks->bits;
  size_t count = 0;
  bool odd = false;
  marks->line_count = 0;
  for (size_t i = 0; i < blocks; i++) {
    uint32_t base = (uint32_t)(i * 64), *to = marks->ends + count;
    uint64_t ends = bits->ends[i];
    if ((bits->lines[i] | bits->odd[i]) != 0)
      list_lines(marks, i, count, &odd);
    size_t left = (size_t)__builtin_popcountll(ends);
    count += left;
    for (; left >= 4; left -= 4, to += 4) {
      to[0] = base + lowest_bit(ends);
      ends &= ends - 1;
      to[1] = base + lowest_bit(ends);
      ends &= ends - 1;
      to[2] = base + lowest_bit(ends);
      ends &= ends - 1;
      to[3] = base + lowest_bit(ends);
      ends &= ends - 1;
    }
    for (; ends != 0; ends &= ends - 1)
      *to++ = base + lowest_bit(ends);
  }
}

static void list_plainly(struct csv_marks *marks, size_t blocks)
{
  list_all(marks, blocks);
}

/* Plain C: eight bytes in a word, of which each comparison leaves the top bit. */

#define ONES 0x0101010101010101u
#define TOPS 0x8080808080808080u
#define LOWS 0x7f7f7f7f7f7f7f7fu

/* Top bit of each byte that is zero. */
static uint64_t zero_bytes(uint64_t x)
{
  return ~(((x & LOWS) + LOWS) | x | LOWS);
}

/* Top bits to the eight lowest bits, the first byte's lowest; `word` was read byte by byte from the lowest. */
static uint64_t gather(uint64_t tops)
{
  return (tops >> 7) * 0x0102040810204080u >> 56;
}

static uint64_t load_word(const char *text)
{
  uint64_t word = 0;
  for (int i = 7; i >= 0; i--)
    word = word << 8 | (unsigned char)text[i];
  return word;
}

static void mark_plainly(const char *text, size_t blocks, char separator, struct csv_bits *bits)
{
  const uint64_t wanted = ONES * (unsigned char)separator;
  for (size_t i = 0; i < blocks; i++, text += 64) {
    uint64_t separators = 0, lines = 0, returns = 0, others = 0;
    for (size_t k = 0; k < 8; k++) {
      uint64_t word = load_word(text + 8 * k);
      uint64_t low = zero_bytes(word & ONES * 0xe0), quotes = zero_bytes(word ^ ONES * '"');
      separators |= gather(zero_bytes(word ^ wanted)) << (8 * k);
      if ((low | quotes) == 0)
        continue;
      uint64_t line = zero_bytes(word ^ ONES * '\n'), back = zero_bytes(word ^ ONES * '\r');
      low &= ~(line | back | zero_bytes(word ^ ONES * '\t'));
      lines |= gather(line) << (8 * k);
      returns |= gather(back) << (8 * k);
      others |= gather(low | quotes) << (8 * k);
    }
    settle(bits, i, separators, lines, returns, others, text[64] == '\n');
  }
}

#if defined(__x86_64__)

static uint64_t mask_16(__m128i bytes, char c)
{
  return (uint64_t)(uint32_t)_mm_movemask_epi8(_mm_cmpeq_epi8(bytes, _mm_set1_epi8(c)));
}

static void mark_by_16(const char *text, size_t blocks, char separator, struct csv_bits *bits)
{
  const __m128i low = _mm_set1_epi8(0x1f);
  for (size_t i = 0; i < blocks; i++, text += 64) {
    uint64_t separators = 0, lines = 0, returns = 0, others = 0;
    for (int k = 0; k < 64; k += 16) {
      __m128i bytes = _mm_loadu_si128((const __m128i *)(const void *)(text + k));
      uint64_t line = mask_16(bytes, '\n'), back = mask_16(bytes, '\r');
      uint64_t control = (uint64_t)(uint32_t)_mm_movemask_epi8(_mm_cmpeq_epi8(_mm_min_epu8(bytes, low), bytes));
      separators |= mask_16(bytes, separator) << k;
      lines |= line << k;
      returns |= back << k;
      others |= ((control & ~line & ~back & ~mask_16(bytes, '\t')) | mask_16(bytes, '"')) << k;
    }
    settle(bits, i, separators, lines, returns, others, text[64] == '\n');
  }
}

#define AVX2 __attribute__((target("avx2,bmi,popcnt")))

AVX2 static inline uint64_t bits_64(__m256i low, __m256i high)
{
  return (uint64_t)(uint32_t)_mm256_movemask_epi8(low) | (uint64_t)(uint32_t)_mm256_movemask_epi8(high) << 32;
}

AVX2 static inline uint64_t equal_64(const __m256i *part, char c)
{
  const __m256i wanted = _mm256_set1_epi8(c);
  return bits_64(_mm256_cmpeq_epi8(part[0], wanted), _mm256_cmpeq_epi8(part[1], wanted));
}

/* Control characters and quotes. */
AVX2 static inline __m256i others_32(__m256i bytes)
{
  return _mm256_or_si256(_mm256_cmpeq_epi8(_mm256_min_epu8(bytes, _mm256_set1_epi8(0x1f)), bytes),
                         _mm256_cmpeq_epi8(bytes, _mm256_set1_epi8('"')));
}

AVX2 static void mark_by_32(const char *text, size_t blocks, char separator, struct csv_bits *bits)
{
  for (size_t i = 0; i < blocks; i++, text += 64) {
    __m256i part[2];
    part[0] = _mm256_loadu_si256((const __m256i *)(const void *)text);
    part[1] = _mm256_loadu_si256((const __m256i *)(const void *)(text + 32));
    uint64_t separators = equal_64(part, separator);
    __m256i low = others_32(part[0]), high = others_32(part[1]), any = _mm256_or_si256(low, high);
    if (_mm256_testz_si256(any, any)) {
      settle(bits, i, separators, 0, 0, 0, false);
      continue;
    }
    uint64_t lines = equal_64(part, '\n'), returns = equal_64(part, '\r');
    uint64_t others = bits_64(low, high) & ~(lines | returns | equal_64(part, '\t'));
    settle(bits, i, separators, lines, returns, others, text[64] == '\n');
  }
}

AVX2 static void list_by_bits(struct csv_marks *marks, size_t blocks)
{
  list_all(marks, blocks);
}

const struct csv_marker *csv_marker_nth(size_t n)
{
  static const struct csv_marker markers[] = {
      {mark_plainly, list_plainly}, {mark_by_16, list_plainly}, {mark_by_32, list_by_bits}};
  __builtin_cpu_init();
  if (n == 2 && !(__builtin_cpu_supports("avx2") && __builtin_cpu_supports("bmi") && __builtin_cpu_supports("popcnt")))
    return NULL;
  return n < sizeof markers / sizeof *markers ? &markers[n] : NULL;
}

#elif defined(__aarch64__)

/* A bit of each byte that is all ones: the lanes' weights, added up in three steps. */
static uint64_t bits_64(uint8x16_t a, uint8x16_t b, uint8x16_t c, uint8x16_t d)
{
  static const uint8_t weights[16] = {1, 2, 4, 8, 16, 32, 64, 128, 1, 2, 4, 8, 16, 32, 64, 128};
  const uint8x16_t weight = vld1q_u8(weights);
  uint8x16_t low = vpaddq_u8(vandq_u8(a, weight), vandq_u8(b, weight));
  uint8x16_t high = vpaddq_u8(vandq_u8(c, weight), vandq_u8(d, weight));
  uint8x16_t sum = vpaddq_u8(low, high);
  return vgetq_lane_u64(vreinterpretq_u64_u8(vpaddq_u8(sum, sum)), 0);
}

static uint64_t equal_64(const uint8x16_t *part, char c)
{
  const uint8x16_t wanted = vdupq_n_u8((uint8_t)c);
  return bits_64(vceqq_u8(part[0], wanted), vceqq_u8(part[1], wanted), vceqq_u8(part[2], wanted),
                 vceqq_u8(part[3], wanted));
}

static void mark_by_16(const char *text, size_t blocks, char separator, struct csv_bits *bits)
{
  const uint8x16_t low = vdupq_n_u8(0x1f);
  for (size_t i = 0; i < blocks; i++, text += 64) {
    uint8x16_t part[4];
    for (size_t k = 0; k < 4; k++)
      part[k] = vld1q_u8((const uint8_t *)text + 16 * k);
    uint64_t control =
        bits_64(vcleq_u8(part[0], low), vcleq_u8(part[1], low), vcleq_u8(part[2], low), vcleq_u8(part[3], low));
    uint64_t lines = equal_64(part, '\n'), returns = equal_64(part, '\r');
    uint64_t others = (control & ~lines & ~returns & ~equal_64(part, '\t')) | equal_64(part, '"');
    settle(bits, i, equal_64(part, separator), lines, returns, others, text[64] == '\n');
  }
}

const struct csv_marker *csv_marker_nth(size_t n)
{
  static const struct csv_marker markers[] = {{mark_plainly, list_plainly}, {mark_by_16, list_plainly}};
  return n < sizeof markers / sizeof *markers ? &markers[n] : NULL;
}

#else

const struct csv_marker *csv_marker_nth(size_t n)
{
  static const struct csv_marker marker = {mark_plainly, list_plainly};
  return n == 0 ? &marker : NULL;
}

#endif

const struct csv_marker *csv_marker_best(void)
{
  const struct csv_marker *best = NULL, *marker;
  for (size_t n = 0; (marker = csv_marker_nth(n)) != NULL; n++)
    best = marker;
  return best;
}

void csv_marks_find(const struct csv_marker *marker, const char *text, size_t size, char separator,
                    struct csv_marks *marks)
{
  size_t blocks = (size + 63) / 64;
  marker->mark(text, blocks, separator, &marks->bits);
  if (size % 64 != 0) {
    uint64_t inside = ((uint64_t)1 << size % 64) - 1;
    marks->bits.ends[blocks - 1] &= inside;
    marks->bits.lines[blocks - 1] &= inside;
    marks->bits.odd[blocks - 1] &= inside;
  }
  marker->list(marks, blocks);
}
