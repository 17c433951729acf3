"""A sheet written as PDF or SVG: vector, text as text, true size, the same bytes for the same sheet."""

from __future__ import annotations

from xml.sax.saxutils import escape, quoteattr

from finishmatch.dossier.sheet import PT_PER_MM, Ink, Part, Sheet, Stroke, Words


def sheet_svg(sheet: Sheet) -> str:
    """Return a sheet as SVG 1.1 whose unit is the millimetre."""
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" version="1.1" width="{sheet.width_mm:g}mm" '
        f'height="{sheet.height_mm:g}mm" viewBox="0 0 {sheet.width_mm:g} {sheet.height_mm:g}" '
        'font-family="Helvetica, Arial, sans-serif" shape-rendering="crispEdges">',
        f"<title>{escape(sheet.title)}</title>",
        f'<rect width="{sheet.width_mm:g}" height="{sheet.height_mm:g}" fill="#ffffff"/>',
        *(_svg_part(part) for part in sheet.parts),
        "</svg>",
    ]
    return "\n".join(lines) + "\n"


def _svg_part(part: Part) -> str:
    if isinstance(part, Words):
        weight = ' font-weight="bold"' if part.bold else ""
        return (
            f'<text x="{part.start_mm:.4g}" y="{part.y_mm:.4g}" font-size="{part.size_pt / PT_PER_MM:.4g}"{weight} '
            f'fill="{_hex(part.ink)}">{escape(part.text)}</text>'
        )
    line = f' stroke="{_hex(part.line)}" stroke-width="{part.line_mm:g}"' if part.line is not None else ""
    if line and part.dashes_mm:
        line += f" stroke-dasharray={quoteattr(' '.join(f'{dash:g}' for dash in part.dashes_mm))}"
    if isinstance(part, Stroke):
        return f'<line x1="{part.x1_mm:.6g}" y1="{part.y1_mm:.6g}" x2="{part.x2_mm:.6g}" y2="{part.y2_mm:.6g}"{line}/>'
    return (
        f'<rect x="{part.x_mm:.6g}" y="{part.y_mm:.6g}" width="{part.width_mm:.6g}" height="{part.height_mm:.6g}" '
        f'fill="{_hex(part.fill) if part.fill is not None else "none"}"{line}/>'
    )


def _hex(ink: Ink) -> str:
    return "#{:02x}{:02x}{:02x}".format(*ink)


def sheet_pdf(sheet: Sheet) -> bytes:
    """Return a sheet as PDF 1.4 (ISO 32000) of one page, set in the standard typeface Helvetica.

    Greys are written as grey, so that a printer lays them down in black ink alone.
    """
    content = "\n".join(_pdf_part(part, sheet.height_mm) for part in sheet.parts).encode("cp1252")
    box = f"[0 0 {sheet.width_mm * PT_PER_MM:.4f} {sheet.height_mm * PT_PER_MM:.4f}]"
    font = "<< /Type /Font /Subtype /Type1 /BaseFont /{} /Encoding /WinAnsiEncoding >>"
    objects = [
        # printers are asked not to fit the page to the paper
        b"<< /Type /Catalog /Pages 2 0 R /ViewerPreferences << /PrintScaling /None >> >>",
        b"<< /Type /Pages /Kids [3 0 R] /Count 1 >>",
        (
            f"<< /Type /Page /Parent 2 0 R /MediaBox {box} /Contents 4 0 R "
            "/Resources << /Font << /F1 5 0 R /F2 6 0 R >> >> >>"
        ).encode(),
        b"<< /Length %d >>\nstream\n%s\nendstream" % (len(content), content),
        font.format("Helvetica").encode(),
        font.format("Helvetica-Bold").encode(),
        b"<< /Title (%s) >>" % _pdf_text(sheet.title),
    ]
    written, offsets = bytearray(b"%PDF-1.4\n%\xe2\xe3\xcf\xd3\n"), []
    for number, body in enumerate(objects, start=1):
        offsets.append(len(written))
        written += b"%d 0 obj\n%s\nendobj\n" % (number, body)
    table = len(written)
    written += b"xref\n0 %d\n0000000000 65535 f \n" % (len(objects) + 1)
    written += b"".join(b"%010d 00000 n \n" % offset for offset in offsets)
    written += b"trailer\n<< /Size %d /Root 1 0 R /Info %d 0 R >>\n" % (len(objects) + 1, len(objects))
    written += b"startxref\n%d\n%%%%EOF\n" % table
    return bytes(written)


def _pdf_text(text: str) -> bytes:
    return text.encode("cp1252").replace(b"\\", b"\\\\").replace(b"(", b"\\(").replace(b")", b"\\)")


def _pdf_ink(ink: Ink, grey: str, colour: str) -> str:
    if len(set(ink)) == 1:
        return f"{ink[0] / 255:.4f} {grey}"
    return " ".join(f"{value / 255:.4f}" for value in ink) + f" {colour}"


def _pdf_part(part: Part, height_mm: float) -> str:
    def at(x_mm: float, y_mm: float) -> str:
        return f"{x_mm * PT_PER_MM:.4f} {(height_mm - y_mm) * PT_PER_MM:.4f}"

    if isinstance(part, Words):
        text = _pdf_text(part.text).decode("cp1252")
        font = f"/{'F2' if part.bold else 'F1'} {part.size_pt:g} Tf"
        return f"BT {_pdf_ink(part.ink, 'g', 'rg')} {font} {at(part.start_mm, part.y_mm)} Td ({text}) Tj ET"
    line = ""
    if part.line is not None:
        dashes = " ".join(f"{dash * PT_PER_MM:.4f}" for dash in part.dashes_mm)
        line = f"{_pdf_ink(part.line, 'G', 'RG')} {part.line_mm * PT_PER_MM:.4f} w [{dashes}] 0 d"
    if isinstance(part, Stroke):
        return f"{line} {at(part.x1_mm, part.y1_mm)} m {at(part.x2_mm, part.y2_mm)} l S"
    path = f"{at(part.x_mm, part.y_mm + part.height_mm)} {part.width_mm * PT_PER_MM:.4f} "
    path += f"{part.height_mm * PT_PER_MM:.4f} re"
    if part.fill is None:
        return f"{line} {path} S"
    return f"{_pdf_ink(part.fill, 'g', 'rg')} {line} {path} {'B' if line else 'f'}"
