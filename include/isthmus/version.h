/* The version that reports name. */
#ifndef ISTHMUS_VERSION_H
#define ISTHMUS_VERSION_H

#define ISTHMUS_VERSION "0.1.0"

#endif
