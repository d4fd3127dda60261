/* SHA-256 (FIPS 180-4) of what lies in memory. */
#ifndef HMIC_SHA256_H
#define HMIC_SHA256_H

#include "hmic_bytes.h"

void hmic_sha256(uint8_t digest[32], const uint8_t *data, uint32_t size);

#endif
