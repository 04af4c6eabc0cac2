"""Pages of recipes."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext
from django.views.decorators.http import require_POST

from farmbuild.common.pages import OrgList, run_action, save_form
from farmbuild.hoops.benders.signals import findings_about
from farmbuild.hoops.recipes import services
from farmbuild.hoops.recipes.bridge import spring_range
from farmbuild.hoops.recipes.forms import RecipeForm, SpringForm
from farmbuild.hoops.recipes.models import Recipe
from farmbuild.hoops.recipes.presenters import recipe_page
from farmbuild.hoops.recipes.selectors import any_recipe_of
from farmbuild.hoops.recipes.side_by_side import side_by_side
from farmbuild.hoops.recipes.spring_context import spring_context
from farmbuild.hoops.recipes.tables import RecipeTable
from farmbuild.hoops.recipes.tape import tape_at_joint


def _recipe(request: HttpRequest, slug: str) -> Recipe:
    return get_object_or_404(any_recipe_of(organisation=request.organisation), slug=slug)


class RecipeList(OrgList):
    table_class = RecipeTable
    template_name = "hoops/recipe_list.html"
    rows = any_recipe_of
    archives = True

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        context = super().get_context_data(**kwargs)
        return context | {"beside": side_by_side(row.record for row in context["table"].page)}


def create(request: HttpRequest) -> HttpResponse:
    form = RecipeForm(request.POST or None, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: services.create_recipe(organisation=request.organisation, user=request.user, data=data),
        message=gettext("{} is on the list."),
    )
    return answer or render(request, "hoops/recipe_form.html", {"form": form, "tape": tape_at_joint()})


def show(request: HttpRequest, slug: str) -> HttpResponse:
    recipe = _recipe(request, slug)
    page = recipe_page(recipe)
    context = {"recipe": recipe, "page": page, "findings": findings_about(bender=recipe.bender)}
    if not page.problems:
        asked = request.GET if {"post_span", "spring_in"} & set(request.GET) else None
        form = SpringForm(
            asked,
            organisation=request.organisation,
            free_span=page.free_span,
            spring_range=spring_range(recipe, None, request.organisation.unit_system),
        )
        context |= {"spring_form": form} | spring_context(recipe, page.free_span, form)
    return render(request, "hoops/recipe.html", context)


def edit(request: HttpRequest, slug: str) -> HttpResponse:
    recipe = _recipe(request, slug)
    name = recipe.name
    form = RecipeForm(request.POST or None, instance=recipe, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: services.save_recipe(
            organisation=request.organisation, user=request.user, recipe=recipe, data=data
        ),
        message=gettext("{} is saved."),
    )
    context = {"form": form, "recipe": recipe, "name": name, "tape": tape_at_joint()}
    return answer or render(request, "hoops/recipe_form.html", context)


@require_POST
def archive(request: HttpRequest, slug: str) -> HttpResponse:
    recipe = _recipe(request, slug)
    services.archive_recipe(organisation=request.organisation, user=request.user, recipe=recipe)
    messages.success(
        request, gettext("%(recipe_name)s is archived. Houses that use it keep it.") % {"recipe_name": recipe.name}
    )
    return redirect("hoops:recipes")


@require_POST
def bring_back(request: HttpRequest, slug: str) -> HttpResponse:
    recipe = _recipe(request, slug)
    services.bring_back_recipe(organisation=request.organisation, user=request.user, recipe=recipe)
    messages.success(request, gettext("%(recipe_name)s is back.") % {"recipe_name": recipe.name})
    return redirect(recipe)


@require_POST
def delete(request: HttpRequest, slug: str) -> HttpResponse:
    recipe = _recipe(request, slug)
    return run_action(
        request,
        lambda: services.delete_recipe(organisation=request.organisation, user=request.user, recipe=recipe),
        message=gettext("%(recipe)s is deleted.") % {"recipe": recipe},
        redirect_to="hoops:recipes",
        refused_redirect_to=recipe,
    )
