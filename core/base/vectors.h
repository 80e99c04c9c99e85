/* Functions whose loops are worth the wider vectors of newer processors carry VECTORS_WIDER: the compiler
 * then makes one more of them, and the loader takes the one that the processor has. All give the same bits,
 * since nothing but the number of lanes is another (core/ knows no fused multiply-add). Nothing where the
 * loader or the compiler cannot do so, under a sanitizer, whose own start such a choice would come before,
 * and without optimisation. */
#ifndef WATERTURN_VECTORS_H
#define WATERTURN_VECTORS_H

#if defined __has_feature
#if __has_feature(address_sanitizer) || __has_feature(thread_sanitizer) || __has_feature(memory_sanitizer)
#define VECTORS_SANITIZED
#endif
#elif defined __SANITIZE_ADDRESS__ || defined __SANITIZE_THREAD__
#define VECTORS_SANITIZED
#endif

#if defined __x86_64__ && defined __gnu_linux__ && defined __OPTIMIZE__ && !defined VECTORS_SANITIZED
#define VECTORS_WIDER __attribute__((target_clones("avx512f", "avx2", "default")))
#else
#define VECTORS_WIDER
#endif

/* What such a loop does with each lane: it can only be made of vectors when it stands in it. */
#ifdef __OPTIMIZE__
#define VECTORS_INLINE inline __attribute__((always_inline))
#else
#define VECTORS_INLINE inline
#endif

#endif
