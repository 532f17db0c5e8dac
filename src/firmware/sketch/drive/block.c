#include "drive.h"

#if defined(__AVR__)
#include <avr/pgmspace.h>
#define PP_BLOCK_STORAGE PROGMEM
#define BLOCK_BYTE(at) pgm_read_byte(&pp_block[at])
#else
#define BLOCK_BYTE(at) pp_block[at]
#endif
#include "../../my_block.h"

static uint8_t byte_at(uint16_t at)
{
    return at < sizeof pp_block ? BLOCK_BYTE(at) : 0xFFu;
}

void pp_read_block(uint16_t at, void *into, uint8_t bytes)
{
    for (uint8_t *to = (uint8_t *)into; bytes > 0; bytes--, at++)
        *to++ = byte_at(at);
}

static uint16_t word_at(uint16_t at)
{
    return (uint16_t)(byte_at(at) | byte_at((uint16_t)(at + 1u)) << 8);
}

uint16_t pp_block_supply(void)
{
    return (uint16_t)((word_at(PP_AT_SUPPLY_LOW) + word_at(PP_AT_SUPPLY_HIGH)) / 2u);
}
