interface Props {
  id: string;
  label: string;
  hint: string;
  accept: string;
  multiple?: boolean;
  open(files: readonly File[]): Promise<void>;
}

/** A drop target that is also an ordinary file button for the keyboard. */
export function FilePick({ hint, ...file }: Props) {
  return (
    <div class="filepick noprint">
      <label class="button" for={file.id}>
        {file.label}
      </label>
      <FileInput {...file} describedBy={`${file.id}-hint`} />
      <p id={`${file.id}-hint`}>{hint}</p>
    </div>
  );
}

/** The same as a button among others. */
export function FileButton(file: Omit<Props, 'hint'>) {
  return (
    <span class="filebutton noprint">
      <FileInput {...file} />
      <label class="plain" for={file.id}>
        {file.label}
      </label>
    </span>
  );
}

function FileInput({
  id,
  accept,
  multiple = false,
  open,
  describedBy,
}: Omit<Props, 'hint' | 'label'> & { describedBy?: string }) {
  return (
    <input
      id={id}
      type="file"
      accept={accept}
      multiple={multiple}
      {...(describedBy ? { 'aria-describedby': describedBy } : {})}
      onChange={(e) => {
        const input = e.currentTarget;
        const files = [...(input.files ?? [])];
        // Cleared, so that the same file can be opened again after a repair on disk.
        input.value = '';
        if (files.length > 0) void open(files);
      }}
    />
  );
}
