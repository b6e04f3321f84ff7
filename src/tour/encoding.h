/* Declared encodings that expat does not know by itself. */
#ifndef BRANT_TOUR_ENCODING_H
#define BRANT_TOUR_ENCODING_H

#include <expat.h>

/* For XML_SetUnknownEncodingHandler: windows-1252, nothing else. */
int XMLCALL brant_gpx_encoding(void *user, const XML_Char *name, XML_Encoding *info);

#endif
