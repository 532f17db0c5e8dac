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

/* A byte in; `more` asks for another one. */
static bool receive(uint8_t *byte, bool more)
{
    bool seen, rose = true;
    uint8_t value = 0;
    for (uint8_t n = 0; n < 8; n++) {
        rose = clock_bit(true, &seen) && rose;
        value = (uint8_t)(value << 1 | (seen ? 1 : 0));
    }
    *byte = value;
    return clock_bit(!more, &seen) && rose;
}

/* Start condition and address. */
static bool address(uint8_t direction)
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
    pull(SDA);
    wait_low();
    pull(SCL);
    return send((uint8_t)(DAC_ADDRESS << 1 | direction));
}

static void end(void)
{
    pull(SDA);
    wait_low();
    let_go(SCL);
    wait_low();
    let_go(SDA);
}

bool dac_write(uint16_t code)
{
    bool taken = address(0) && send((uint8_t)(code >> 8)) && send((uint8_t)code);
    end();
    return taken;
}

/* Five bytes: state, code (2), and the memory's power-down bits and code (2): x PD1 PD0 x D11 .. D8, D7 .. D0. */
bool dac_wakes_at_zero(bool *is_zero)
{
    uint8_t is[5];
    bool answered = address(1);
    for (uint8_t n = 0; n < sizeof is && answered; n++)
        answered = receive(&is[n], n + 1u < sizeof is);
    end();
    *is_zero = answered && (is[3] & 0x6Fu) == 0 && is[4] == 0;
    return answered;
}

/* Command 011: code register and memory; 12 bits of code from the left. */
bool dac_store_zero(void)
{
    bool taken = address(0) && send(0x60) && send(0) && send(0);
    end();
    return taken;
}
