/*
 * The virtual reader: the reader's own logic (firmware/core/reader.c, the same that runs in its chip) over a
 * cartridge model, on a virtual clock of 8 ns a cycle. What it answers comes out of the model's contacts.
 */
#ifndef SLOTJIG_VIRTUAL_READER_H
#define SLOTJIG_VIRTUAL_READER_H

#include "base/problem.h"
#include "link/transport.h"
#include "virtual/cart_model.h"

struct virtual_reader;

/* The cartridge must outlive the reader. */
struct virtual_reader *virtual_reader_new(struct cart_model *cartridge, uint64_t seed,
                                          struct problem *problem);
void virtual_reader_free(struct virtual_reader *reader);
/* Pulled out of the socket, or put back: with it out nothing drives the data lines. */
void virtual_reader_insert(struct virtual_reader *reader, bool in);
/* So many microseconds of the reader's time from now it is pulled out. */
void virtual_reader_pull_after(struct virtual_reader *reader, uint64_t us);
/* Its wire, as link_open() takes it; the reader must outlive the link. */
void virtual_reader_transport(struct virtual_reader *reader, struct transport *transport);
bool virtual_reader_supply(const struct virtual_reader *reader); /* whether it is on */
uint64_t virtual_reader_now_us(const struct virtual_reader *reader);

#endif
