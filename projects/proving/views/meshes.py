"""A part measured from a mesh, and what was measured taken into the part."""

from uuid import UUID

from django.contrib import messages
from django.core import signing
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST

from finishing.science.mesh import NoMesh
from finishing.science.units import Quantity
from finishing.science.validity import OutsideValidity
from finishing.workshops.access import WorkshopRequest, member
from projects.proving.forms.meshes import MeshForm
from projects.proving.imports.meshes import read_mesh
from projects.record.models import Part
from projects.work.domain.sizes import size_by_mesh

SALT = "measured from a mesh"
OF_A_PART = {"area": ("m²", 0.0001, 200.0), "mass": ("kg", 0.001, 20000.0), "wall": ("mm", 0.5, 500.0)}


@member("plan")
def measure(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    part = get_object_or_404(Part.objects.of(request.workshop).select_related("design"), pk=pk)
    form = MeshForm(request.POST or None, request.FILES or None, workshop=request.workshop)
    context = {"part": part, "form": form}
    if form.is_valid():
        file = form.cleaned_data["file"]
        try:
            mesh = read_mesh(file.read(), file.name, form.metres)
            texture = form.cleaned_data["texture"]
            size = size_by_mesh(mesh, form.left_out, form.left_out_words, file.name, part.material, texture)
        except NoMesh as refusal:
            form.add_error("file", str(refusal))
        except OutsideValidity as outside:
            form.add_error("file", f"{outside} Is the unit right, and is something left to paint?")
        else:
            measured = {"area": size.area.to("m**2").magnitude if size.area is not None else None}
            measured["mass"] = size.mass.to("kg").magnitude if size.mass is not None else None
            measured["wall"] = mesh.mean_wall * 1000 if mesh.closed else None
            beyond = [name for name, value in measured.items() if value is not None and not _possible(name, value)]
            if beyond:
                told = ", ".join(f"{name} {measured[name]:.3g} {OF_A_PART[name][0]}" for name in beyond)
                form.add_error("unit", f"This makes {told}, which no part here has. Is the unit right?")
            else:
                signed = signing.dumps({"part": str(part.pk), "basis": size.basis, **measured}, salt=SALT)
                context |= {"size": size, "mesh": mesh, "wall": measured["wall"], "signed": signed}
    return render(request, "projects/proving/meshes/measure.html", context, status=422 if form.errors else 200)


def _possible(name: str, value: float) -> bool:
    _, low, high = OF_A_PART[name]
    return low <= value <= high


@member("plan")
@require_POST
def take(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """Area always; weight and wall where the part says none yet."""
    part = get_object_or_404(Part.objects.of(request.workshop), pk=pk)
    try:
        measured = signing.loads(request.POST.get("measured", ""), salt=SALT)
    except signing.BadSignature:
        raise Http404("Nothing was measured.") from None
    if measured["part"] != str(part.pk):
        raise Http404("This was measured of another part.")
    part.area, part.area_basis = Quantity(measured["area"], "m**2"), measured["basis"][:200]
    if part.mass is None and measured["mass"] is not None:
        part.mass = Quantity(measured["mass"], "kg")
    if part.wall is None and measured["wall"] is not None:
        part.wall = Quantity(measured["wall"], "mm")
    part.save()
    messages.success(request, f"{part} has its area from the mesh.")
    return redirect("part", part.pk)
