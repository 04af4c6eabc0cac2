"""Addresses of the week, of schedules and of tasks."""

from django.urls import path

from farmbuild.crew.schedule.views import schedules, tasks

urlpatterns = [
    path("crew/", schedules.board, name="board"),
    path("crew/week/<str:day>/", schedules.week, name="week-sheet"),
    path("crew/schedules/", schedules.ScheduleList.as_view(), name="schedules"),
    path("crew/schedules/new/", schedules.create, name="schedule-new"),
    path("crew/schedules/<int:number>/", schedules.show, name="schedule"),
    path("crew/schedules/<int:number>/progress/", schedules.progress, name="schedule-progress"),
    path("crew/schedules/<int:number>/run/", schedules.run, name="schedule-run"),
    path("crew/schedules/<int:number>/end/", schedules.end, name="schedule-end"),
    path("crew/schedules/<int:number>/retry/", schedules.retry, name="schedule-retry"),
    path("crew/schedules/<int:number>/publish/", schedules.publish, name="schedule-publish"),
    path("crew/tasks/<int:pk>/", tasks.task, name="task"),
    path("crew/tasks/<int:pk>/fix/", tasks.fix, name="task-fix"),
    path("crew/tasks/<int:pk>/length/", tasks.length, name="task-length"),
    path("crew/tasks/<int:pk>/slip/", tasks.slip, name="task-slip"),
]
