#include "report/canvas.h"

#include <ctype.h>
#include <stdlib.h>
#include <string.h>

/* 3 by 5 dots a glyph, one octal digit a row, top row first. */
static const struct {
    char character;
    uint16_t rows;
} glyphs[] = {
    {'0', 075557}, {'1', 026227}, {'2', 071747}, {'3', 071717}, {'4', 055711}, {'5', 074717}, {'6', 074757},
    {'7', 071122}, {'8', 075757}, {'9', 075717}, {'A', 025755}, {'B', 065656}, {'C', 034443}, {'D', 065556},
    {'E', 074647}, {'F', 074644}, {'G', 034553}, {'H', 055755}, {'I', 072227}, {'J', 011152}, {'K', 055655},
    {'L', 044447}, {'M', 057755}, {'N', 065555}, {'O', 025552}, {'P', 065644}, {'Q', 025563}, {'R', 065655},
    {'S', 034216}, {'T', 072222}, {'U', 055557}, {'V', 055552}, {'W', 055775}, {'X', 055255}, {'Y', 055222},
    {'Z', 071247}, {'.', 000002}, {',', 000024}, {':', 002020}, {'-', 000700}, {'+', 002720}, {'=', 007070},
    {'(', 024442}, {')', 021112}, {'/', 011244}, {'%', 051245}, {'?', 071202}, {'$', 036236},
};

struct canvas canvas_new(int width, int height, struct colour fill) {
    struct canvas canvas = {
        .width = width, .height = height, .rgb = malloc((size_t)width * (size_t)height * 3)};
    if (canvas.rgb != NULL) {
        canvas_fill(&canvas, 0, 0, width, height, fill);
    }
    return canvas;
}

void canvas_free(struct canvas *canvas) {
    free(canvas->rgb);
    canvas->rgb = NULL;
}

static void dot(struct canvas *canvas, int x, int y, struct colour colour) {
    if (x < 0 || y < 0 || x >= canvas->width || y >= canvas->height) {
        return;
    }
    uint8_t *at = canvas->rgb + ((size_t)y * (size_t)canvas->width + (size_t)x) * 3;
    at[0] = colour.r;
    at[1] = colour.g;
    at[2] = colour.b;
}

void canvas_fill(struct canvas *canvas, int x, int y, int width, int height, struct colour colour) {
    for (int row = y; row < y + height; row++) {
        for (int column = x; column < x + width; column++) {
            dot(canvas, column, row, colour);
        }
    }
}

void canvas_frame(struct canvas *canvas, int x, int y, int width, int height, struct colour colour) {
    canvas_fill(canvas, x, y, width, 1, colour);
    canvas_fill(canvas, x, y + height - 1, width, 1, colour);
    canvas_fill(canvas, x, y, 1, height, colour);
    canvas_fill(canvas, x + width - 1, y, 1, height, colour);
}

void canvas_cross(struct canvas *canvas, int x, int y, int width, int height, struct colour colour) {
    int steps = (width > height ? width : height) - 1;
    for (int i = 0; i <= steps && steps > 0; i++) {
        int dx = i * (width - 1) / steps, dy = i * (height - 1) / steps;
        for (int thick = 0; thick < 2; thick++) {
            dot(canvas, x + dx, y + dy + thick, colour);
            dot(canvas, x + width - 1 - dx, y + dy + thick, colour);
        }
    }
}

static uint16_t glyph_rows(char character) {
    char wanted = (char)toupper((unsigned char)character);
    for (size_t i = 0; i < sizeof glyphs / sizeof glyphs[0]; i++) {
        if (glyphs[i].character == wanted) {
            return glyphs[i].rows;
        }
    }
    return 0;
}

void canvas_text(struct canvas *canvas, int x, int y, int scale, const char *text, struct colour colour) {
    for (; *text != '\0'; text++, x += GLYPH_WIDTH * scale) {
        uint16_t rows = glyph_rows(*text);
        for (int bit = 0; bit < 15; bit++) {
            if ((rows >> (14 - bit)) & 1) {
                canvas_fill(canvas, x + bit % 3 * scale, y + bit / 3 * scale, scale, scale, colour);
            }
        }
    }
}
