/* The part's own ADC, one reading at a time. */
#ifndef ADC_H
#define ADC_H

#include <stdint.h>

#define ADC_BITS 10

/* Switches it on; the first reading, which is a poor one, is thrown away. */
void adc_start(void);

/* One reading of a channel, or 0xFFFF when the converter does not come to an end. */
uint16_t adc_read(uint8_t channel);

/* The part's own reference against the supply: the higher the reading, the lower the supply. */
uint16_t adc_read_reference(void);

#endif
