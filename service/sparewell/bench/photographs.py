"""Photographs of pens and donors: seen, and taken with the phone at hand."""

from __future__ import annotations

from typing import Any

from flask import Response, current_app, request

from sparewell.bench.asking import Refused, address, every, exchange, get
from sparewell.bench.pages import blueprint, form_key, see, show
from sparewell.configuration import PHOTOGRAPH_LIMIT
from sparewell.edge.raw_body import RAW_LIMIT, RAW_LIMITS

OF = {"pens": "pen", "donors": "donor"}


@blueprint.get("/<any(pens, donors):of>/<number>/photographs")
def photographs_page(of: str, number: str) -> Any:
    """Show the photographs of a pen or a donor."""
    return _photographs_page(of, number)


def _photographs_page(of: str, number: str, refusal: Refused | None = None) -> Any:
    page = show(
        "photographs.html",
        of=of,
        pictured=get(address(of, number)),
        photographs=every(address(of, number, "photographs"), "photographs"),
        refusal=refusal,
        most_bytes=current_app.config[RAW_LIMITS][PHOTOGRAPH_LIMIT],
    )
    return page, refusal.status if refusal else 200


@blueprint.post("/<any(pens, donors):of>/<number>/photographs")
def add_photograph(of: str, number: str) -> Any:
    """Keep a photograph."""
    picture = request.files.get("picture")
    try:
        exchange(
            "POST",
            address(of, number, "photographs"),
            data=picture.read() if picture else b"",
            media_type=picture.mimetype if picture and picture.mimetype else "image/jpeg",
            query={"note": request.form.get("note", "").strip()},
            key=form_key(),
        )
    except Refused as refusal:
        return _photographs_page(of, number, refusal)
    return see(f"/{of}/{number}/photographs", said="photographed")


setattr(add_photograph, RAW_LIMIT, PHOTOGRAPH_LIMIT)


@blueprint.get("/photographs/<row:photograph>")
def picture(photograph: int) -> Any:
    """Hand on the picture itself."""
    answer = exchange("GET", address("photographs", photograph, "image"))
    return Response(answer.get_data(), headers=dict(answer.headers))
