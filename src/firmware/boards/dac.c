#include "dac.h"

#include "config.h"

#define SDA (1u << DAC_SDA)
#define SCL (1u << DAC_SCL)

/* At least 1.3 us low and 0.6 us high: the fast mode's 400 kHz is never exceeded. */
static void wait_low(void)
{
    __builtin_avr_delay_cycles(F_CPU / 1000000UL);
}

static void pull(uint8_t line)
{
    DAC_DDR |= line;
}

static void let_go(uint8_t line)
{
    DAC_DDR &= (uint8_t)~line;
}

static bool is_high(uint8_t line)
{
    return (DAC_PIN & line) != 0;
}

/* One bit out, and what the line says while the clock is high. False when the clock does not rise. */
static bool clock_bit(bool bit, bool *seen)
{
    if (bit)
        let_go(SDA);
    else
        pull(SDA);
    wait_low();
    let_go(SCL);
    wait_low();
    bool rose = is_high(SCL);
    *seen = is_high(SDA);
    pull(SCL);
    return rose;
}

static bool send(uint8_t byte)
{
    bool seen;
    for (uint8_t mask = 0x80; mask != 0; mask = (uint8_t)(mask >> 1)) {
        bool bit = (byte & mask) != 0;
        if (!clock_bit(bit, &seen) || seen != bit)
            return false;
    }
    return clock_bit(true, &seen) && !seen; /* the DAC pulls the line: taken */
}

bool dac_write(uint16_t code)
{
    DAC_PORT &= (uint8_t)~(SDA | SCL); /* a pulled line is low; no pull-ups of the part's own */
    let_go(SDA);
    let_go(SCL);
    wait_low();
    if (!is_high(SDA) || !is_high(SCL)) {
        /* A slave may be in the middle of a byte: clocks until it lets go. */
        bool seen = false;
        for (uint8_t n = 0; n < 9 && !seen; n++)
            clock_bit(true, &seen);
        let_go(SCL);
        wait_low();
        if (!is_high(SDA) || !is_high(SCL))
            return false;
    }
    pull(SDA); /* start */
    wait_low();
    pull(SCL);
    bool taken = send(DAC_ADDRESS << 1) && send((uint8_t)(code >> 8)) && send((uint8_t)code);
    pull(SDA);
    wait_low();
    let_go(SCL); /* stop */
    wait_low();
    let_go(SDA);
    return taken;
}
