/* windows-1252, which older GPX writers declare. Expat itself reads UTF-8,
 * UTF-16, ISO-8859-1 and US-ASCII; any other encoding is refused. */
#include "encoding.h"

#include <string.h>
#include <strings.h>

/* The bytes 0x80-0x9f; -1 is no character. All others are as in ISO-8859-1.
 * Source: Unicode Consortium, mapping table CP1252.TXT. */
static const int from_80_to_9f[32] = {
    0x20ac, -1,     0x201a, 0x0192, 0x201e, 0x2026, 0x2020, 0x2021, 0x02c6, 0x2030, 0x0160,
    0x2039, 0x0152, -1,     0x017d, -1,     -1,     0x2018, 0x2019, 0x201c, 0x201d, 0x2022,
    0x2013, 0x2014, 0x02dc, 0x2122, 0x0161, 0x203a, 0x0153, -1,     0x017e, 0x0178};

int XMLCALL brant_gpx_encoding(void *user, const XML_Char *name, XML_Encoding *info)
{
    (void)user;
    if (strcasecmp(name, "windows-1252") != 0 && strcasecmp(name, "cp1252") != 0)
        return XML_STATUS_ERROR;
    for (int byte = 0; byte < 256; byte++)
        info->map[byte] = byte < 0x80 || byte > 0x9f ? byte : from_80_to_9f[byte - 0x80];
    info->data = NULL;
    info->convert = NULL;
    info->release = NULL;
    return XML_STATUS_OK;
}
