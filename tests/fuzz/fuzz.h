/* What every fuzz harness defines; libFuzzer calls it, or standalone.c with the files kept. */
#ifndef MB_FUZZ_H
#define MB_FUZZ_H

#include <stddef.h>
#include <stdint.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

#endif
