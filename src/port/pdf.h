/*
 * PDF files beyond their pages: one file that is both paper and proof.
 *
 * mb_pdf_finish works on a PDF that we drew ourselves, by libqpdf (pdf.c is the only file that
 * knows it). mb_pdf_attachment reads PDFs that come from strangers, by our own reader
 * (pdf_read.h): libqpdf unpacks whatever a file asks for (1 MB of PDF can take 2 GB), and its C
 * interface has no limit to set.
 */
#ifndef MB_PDF_H
#define MB_PDF_H

#include <stdbool.h>
#include <stdint.h>

#include <markerbed/arena.h>

struct mb_pdf_file {
    const char *name;        /* as it is to be saved: "certificate.json" */
    const char *mime;        /* "application/json" */
    const char *description; /* one line for people */
    struct mb_str bytes;
};

struct mb_pdf_dress {
    const char *language;           /* BCP 47: "en"; NULL leaves it out */
    int64_t created;                /* seconds since 1970: date of the document and the file */
    bool xmp;                       /* metadata as XMP too, taken from the document's own */
    const struct mb_pdf_file *file; /* NULL: none */
};

/*
 * Gives a PDF from mb_canvas_finish its language, its dates in the right form, the title in the
 * window's frame, XMP metadata (ISO 16684-1), and an attached file (ISO 32000-2, 7.11.4 and 14.13:
 * in the EmbeddedFiles name tree and as an associated file of relation Data). The same input gives
 * the same bytes. MB_UNABLE if libqpdf fails, MB_REFUSED for a bad name of the file.
 */
MB_CHECK enum mb_rc mb_pdf_finish(mb_arena *arena, struct mb_str pdf,
                                  const struct mb_pdf_dress *dress, struct mb_str *out,
                                  struct mb_error *err);

/*
 * The bytes of the attached file of this name, at most max of them. Takes PDFs as other programs
 * save them again (object streams, cross-reference streams, updates, linearized), but repairs
 * nothing. Memory is at most about three times max plus 160 MiB, and time grows with the bytes,
 * whatever they are.
 *
 * MB_NO if the PDF is sound and has no such file. MB_REFUSED if it is no PDF, is damaged, is
 * protected by a password, has two different files of that name, or the file is longer than max.
 */
MB_CHECK enum mb_rc mb_pdf_attachment(mb_arena *arena, struct mb_str pdf, const char *name,
                                      size_t max, struct mb_str *out, struct mb_error *err);

#endif
