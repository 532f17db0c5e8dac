#include "adc.h"

#include "config.h"

/* A conversion takes 13 ADC clocks, the first one 25: with F_CPU / 128 at most 3200 CPU cycles. Each look takes
 * more than 4. */
#define MOST_LOOKS 800

void adc_start(void)
{
    ADCSRA = (uint8_t)((1u << ADEN) | ADC_CLOCK);
    adc_read(0);
}

uint16_t adc_read(uint8_t channel)
{
    ADMUX = (uint8_t)(ADC_REFERENCE | channel);
    ADCSRA |= (uint8_t)(1u << ADSC);
    for (uint16_t looks = MOST_LOOKS; looks > 0; looks--)
        if (!(ADCSRA & (1u << ADSC)))
            return ADC;
    return 0xFFFFu;
}

/* The part's own reference is weak: the first reading after the switch is thrown away (data sheet, "Analog Input
 * Circuitry"; from memory). */
uint16_t adc_read_reference(void)
{
    adc_read(OWN_REFERENCE);
    return adc_read(OWN_REFERENCE);
}
