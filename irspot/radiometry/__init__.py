"""In-band radiance and temperature: the physics between stored numbers and surfaces."""
