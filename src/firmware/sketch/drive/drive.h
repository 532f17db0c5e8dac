/* What the sketch of the driving board sees of the core, and the constants that are compiled in. It stands beside the core's files, in
 * src/core of the sketch; my_block.h stands beside the sketch. */
#ifndef DRIVE_H
#define DRIVE_H

#ifdef __cplusplus
extern "C" {
#endif

#include "blend.h"

uint16_t pp_block_supply(void);

#ifdef __cplusplus
}
#endif

#endif
