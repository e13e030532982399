/* What the files that find contacts share. Private to src/board. */
#ifndef ISTHMUS_BOARD_CONTACTS_H
#define ISTHMUS_BOARD_CONTACTS_H

#include "build.h"

/* The first who names a contact's net or pin is believed; where only the reference is known, the
 * first who names a pin of it. */
void draft_name_net(struct draft *draft, const char *net, struct source_pos at,
                    enum contact_source source);
void draft_name_pin(struct draft *draft, const char *ref, const char *pin, const char *function);
void draft_name_from_point(struct build *build, struct draft *draft, size_t point);
/* Where one of both names no pin, the reference decides. */
bool contact_is_pin(const struct contact *contact, const char *ref, const char *pin);

bool mark_pad(struct build *build, struct draft *draft, uint32_t pad);
bool contact_of_pad(struct build *build, uint32_t pad, enum contact_source source);
/* The pad that holds the point; the nearest centre wins. is_contact: only pads that are one. */
bool pad_may_be_meant(const struct pad *pad);
uint32_t pad_under(const struct build *build, uint16_t layer, struct pos_nm at, bool is_contact);
bool contact_of_hole(struct build *build, uint32_t hole, bool is_doubtful);

enum board_status hole_contacts(struct build *build);
enum board_status point_contacts(struct build *build);
enum board_status row_contacts(struct build *build);

#endif
