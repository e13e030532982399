/* The command-line program: the only place that prints, exits, or sees every folder. */
#include <stdio.h>

int main(void)
{
    fputs("isthmus: this command line is not wired up yet\n", stderr);
    return 2;
}
