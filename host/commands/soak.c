#include "commands/soak.h"

void soak_tell(FILE *stream, int minutes) {
    if (minutes > 0) {
        fprintf(stream, "soak: the console goes on for %d minutes by itself.", minutes);
    } else {
        fprintf(stream, "soak: the console goes on until it is stopped.");
    }
    fprintf(stream, " Before you leave it:\n"
                    "- its supply is tested, double-insulated, of the right voltage and the right polarity, "
                    "and was made for "
                    "it; no part of\n  it gets hot\n"
                    "- nothing that burns lies near supply, console and screen, and air gets to all three\n"
                    "- the screen is dimmed or off: a picture that stands still burns in\n"
                    "- whoever may come near knows that it runs, and how to switch it off\n"
                    "The manuals of supply and console, and the rules of the place, come first.\n");
}
