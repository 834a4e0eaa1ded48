"""The addresses of resources, as headers carry them."""

from __future__ import annotations

from urllib.parse import quote


def location(plural: str, key: str | int) -> dict[str, str]:
    """Return the Location header of a resource just made (RFC 9110 section 10.2.2)."""
    return {"Location": f"/v1/{plural}/{quote(str(key), safe='')}"}
