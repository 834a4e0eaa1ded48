"""The demo workshop: drawers, bags and pens of our own invention, for trying the service out.

Everything in it is invented for the demo only. The workshop, its people and the makers on its
packets belong to nobody, and no pen in it is anybody's. The dimensions are common practice, made
up so that each pen shows something; nothing here is a source for a real repair.
"""
