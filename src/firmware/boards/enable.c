#include "enable.h"

#include "config.h"

void enable_start(void)
{
    ENABLE_DDR |= (uint8_t)(1u << ENABLE_BIT);
}

void enable_pulse(void)
{
    ENABLE_PIN = (uint8_t)(1u << ENABLE_BIT); /* a 1 written to the input register turns the output over */
}
