/* What the player is built for. `hmic player --for DESIGN` writes this file for one design; this one fits any. */
#ifndef HMIC_SETTINGS_H
#define HMIC_SETTINGS_H

/* Operation kinds that can be drawn, bit k for kind k of FORMAT.md. The others take no code, and a pack that
   needs one is refused. */
#define HMIC_KINDS 0x1FFEu

/* What a port may size its memory by: the panel, and the channels of the largest pack to be held. */
#define HMIC_WIDTH 800
#define HMIC_HEIGHT 480
#define HMIC_DEPTH 16
#define HMIC_MOST_CHANNELS 1024
#define HMIC_BAUD 115200
/* Degrees clockwise by which the panel is mounted turned; hmic_turned.h helps a port with it. */
#define HMIC_TURNED 0

/* 1: the pack is part of the program, in hmic_design_pack.c. */
#define HMIC_WITH_PACK 0

#endif
