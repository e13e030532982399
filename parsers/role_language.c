/*
 * The words of the trade in German, French, Spanish, Italian and Polish, as somebody names files by
 * hand: what is top and bottom, copper, mask, edge and hole in these languages. Plain words of
 * language (from memory), no exporter's convention. Accents are taken off first; German umlauts
 * also stand as ae, oe, ue.
 */
#include "roles_private.h"

#include <string.h>

static const struct {
    uint32_t flags;
    const char *words; /* blank-separated */
} languages[] = {
    {W_TOP, "oben oberseite vorderseite dessus haut recto superior arriba anverso "
            "sopra superiore gora gorna gorny wierzch"},
    {W_TOP | W_COPPER, "bestuckungsseite bestueckungsseite bauteilseite"},
    {W_BOTTOM, "unten unterseite ruckseite rueckseite dessous bas verso inferior abajo "
               "reverso sotto inferiore dol dolna dolny spod"},
    {W_BOTTOM | W_COPPER, "lotseite loetseite"},
    {W_INNER, "innen innenlage innenlagen interne interna interno interior wewnetrzna "
              "wewnetrzne"},
    {W_COPPER, "kupfer leiterbahn leiterbahnen leiterbild cuivre pistes piste cobre "
               "pistas rame miedz sciezki"},
    {W_PLANE, "masse masa massa alimentation alimentacion alimentazione versorgung "
              "zasilanie"},
    {W_LAYER, "lage ebene couche capa strato warstwa"},
    {W_MASK, "lotstopp loetstopp lotstoppmaske loetstoppmaske lotstopplack "
             "loetstopplack stopplack stoppmaske lotmaske loetmaske maske vernis "
             "epargne masque mascara antisoldante maschera maska soldermaska"},
    {W_PASTE, "lotpaste loetpaste pastenmaske pate pasta"},
    {W_LEGEND, "bestuckungsdruck bestueckungsdruck siebdruck positionsdruck "
               "serigraphie serigrafia opis nadruk sitodruk"},
    {W_DOC, "zeichnung bohrplan bestuckungsplan bestueckungsplan dessin dibujo "
            "disegno rysunek"},
    {W_PROFILE, "umriss umrisse kontur aussenkontur platinenkontur platinenumriss "
                "contorno bordo borde detourage obrys krawedz"},
    {W_WEAK_PROFILE, "rand"},
    {W_CUT | W_WEAK_PROFILE, "frasen fraesen frasung fraesung decoupe fraisage fresado fresatura "
                             "frezowanie"},
    {W_DRILL, "bohrung bohrungen bohren bohrer percage percages trou trous taladro "
              "taladros agujero agujeros perforacion perforaciones foratura forature "
              "foro fori otwor otwory wiercenie wiercenia"},
    {W_PLATED, "durchkontaktiert durchkontaktierung durchkontaktierungen metallise "
               "metallises metallisee metallisees metalizado metalizados metallizzato "
               "metallizzati metalizowane metalizowany"},
    {W_NONPLATED, "niemetalizowane niemetalizowany"},
    {W_NON, "nicht no nie sin"},
    {W_COMPONENT, "composant composants componente componentes componenti elementow "
                  "elementy"},
    {W_SOLDER, "soudure soudures soldadura soldaduras saldatura saldature lutowania "
               "lutowanie lutownicza"},
    {W_SIDE, "seite cote face lado cara lato strona"},
    {W_NEUTRAL, "platine leiterplatte carte circuit imprime placa circuito impreso "
                "scheda stampato plytka drukowana"},
};

uint32_t language_word_flags(const char *text, size_t length)
{
    for (size_t i = 0; i < sizeof languages / sizeof *languages; i++)
        for (const char *at = languages[i].words; *at;) {
            size_t item = strcspn(at, " ");
            if (item == length && memcmp(at, text, length) == 0)
                return languages[i].flags | W_FOREIGN;
            at += item + (at[item] == ' ');
        }
    return 0;
}

/* ---- accents -------------------------------------------------------------------------------- */

struct range {
    uint16_t first, last;
    char letter;
};
/* Unicode blocks Latin-1 Supplement and Latin Extended-A: what these languages use. */
static const struct range ranges[] = {
    {0xc0, 0xc6, 'A'},   {0xc7, 0xc7, 'C'},   {0xc8, 0xcb, 'E'},   {0xcc, 0xcf, 'I'},
    {0xd1, 0xd1, 'N'},   {0xd2, 0xd8, 'O'},   {0xd9, 0xdc, 'U'},   {0xdd, 0xdd, 'Y'},
    {0xe0, 0xe6, 'a'},   {0xe7, 0xe7, 'c'},   {0xe8, 0xeb, 'e'},   {0xec, 0xef, 'i'},
    {0xf1, 0xf1, 'n'},   {0xf2, 0xf8, 'o'},   {0xf9, 0xfc, 'u'},   {0xfd, 0xff, 'y'},
    {0x104, 0x104, 'A'}, {0x105, 0x105, 'a'}, {0x106, 0x106, 'C'}, {0x107, 0x107, 'c'},
    {0x118, 0x118, 'E'}, {0x119, 0x119, 'e'}, {0x141, 0x141, 'L'}, {0x142, 0x142, 'l'},
    {0x143, 0x143, 'N'}, {0x144, 0x144, 'n'}, {0x152, 0x152, 'O'}, {0x153, 0x153, 'o'},
    {0x15a, 0x15a, 'S'}, {0x15b, 0x15b, 's'}, {0x179, 0x179, 'Z'}, {0x17a, 0x17a, 'z'},
    {0x17b, 0x17b, 'Z'}, {0x17c, 0x17c, 'z'},
};

static char plain_letter(uint32_t code)
{
    for (size_t i = 0; i < sizeof ranges / sizeof *ranges; i++)
        if (code >= ranges[i].first && code <= ranges[i].last && code != 0xd7 && code != 0xf7)
            return ranges[i].letter;
    return '\0';
}

#define SHARP_S 0xdf
#define FIRST_COMBINING 0x300 /* accents as characters of their own, as some systems name files */
#define LAST_COMBINING 0x36f

size_t language_fold(const char *text, size_t length, char *out, size_t capacity)
{
    size_t count = 0;
    for (size_t i = 0; i < length && count < capacity; i++) {
        unsigned char lead = (unsigned char)text[i];
        unsigned char next = i + 1 < length ? (unsigned char)text[i + 1] : 0;
        bool is_pair = lead >= 0xc2 && lead <= 0xdf && (next & 0xc0) == 0x80;
        uint32_t code = is_pair ? (uint32_t)((lead & 0x1f) << 6 | (next & 0x3f)) : 0;
        char plain = plain_letter(code);
        bool is_combining = code >= FIRST_COMBINING && code <= LAST_COMBINING;
        i += plain != '\0' || is_combining || code == SHARP_S;
        if (is_combining)
            continue;
        if (!plain)
            plain = text[i];
        if (code == SHARP_S) {
            plain = 's';
            if (count + 1 < capacity)
                out[count++] = plain;
        }
        out[count++] = plain;
    }
    return count;
}
